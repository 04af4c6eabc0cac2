"""Leave to take pieces of a member, as the owner told it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.common.speaking import said_count
from farmbuild.stock.leave import in_words, leaves_that_stand
from farmbuild.stock.owners import services
from farmbuild.stock.owners.forms import EndForm, LeaveForm
from farmbuild.stock.selectors import lots_of_members
from farmbuild.stock.words import noun_of


def give(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(lots_of_members(organisation=request.organisation), pk=pk)
    form = LeaveForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.record_leave(**actor_kwargs(request), lot=row, **data),
        message=gettext("The leave is recorded."),
        redirect_to=f"{reverse('stock:lot', args=[pk])}#leave",
    )
    there = said_count(row.on_hand, noun_of(row.material, offcut=row.offcut))
    return answer or render(request, "stock/owners/leave.html", {"form": form, "lot": row, "there": there})


def end(request: HttpRequest, pk: int) -> HttpResponse:
    """Asks first, and why."""
    row = get_object_or_404(leaves_that_stand(organisation=request.organisation), pk=pk)
    form = EndForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.end_leave(**actor_kwargs(request), leave=row, **data),
        message=gettext("The leave has ended."),
        redirect_to=f"{reverse('stock:lot', args=[row.lot_id])}#leave",
    )
    context = {"form": form, "lot": row.lot, "words": in_words(row)}
    return answer or render(request, "stock/owners/end.html", context)
