"""Work that no step foresaw: written down for a house, and one entry."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.crew.hours import other_work
from farmbuild.crew.hours.forms import OtherWorkForm, RemoveForm, minutes_of
from farmbuild.crew.hours.selectors import any_other_work_of
from farmbuild.crew.models import OtherWork
from farmbuild.crew.people.selectors import person_of
from farmbuild.measure import format_minutes
from farmbuild.orgs.clock import today_of
from farmbuild.sites.lookup import house_or_404


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, slug: str) -> HttpResponse:
    house = house_or_404(organisation=request.organisation, slug=slug)
    own = person_of(organisation=request.organisation, user=request.user)
    first = {"day": today_of(organisation=request.organisation), "person": own, "people": 1}
    form = OtherWorkForm(request.POST or None, organisation=request.organisation, initial=first)

    def save(data: dict) -> OtherWork:
        minutes = minutes_of(data.pop("hours"))
        return other_work.write_down(**actor_kwargs(request), house=house, minutes=minutes, **data)

    answer = save_form(
        request,
        form,
        save,
        message=gettext("Written down: {}. It waits for approval."),
        redirect_to=reverse("crew:house-work", args=[house.slug]),
    )
    return answer or render(request, "crew/hours/other_form.html", {"form": form, "house": house})


@require_http_methods(["GET", "POST"])
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """One entry; posting takes it back."""
    organisation = request.organisation
    work = get_object_or_404(any_other_work_of(organisation=organisation), pk=pk)
    form = RemoveForm(request.POST or None, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: other_work.remove(**actor_kwargs(request), work=work, reason=data["reason"]),
        message=gettext("Taken back: {}."),
        redirect_to=reverse("crew:house-work", args=[work.house.slug]),
    )
    may = work.removed_at is None and other_work.may_remove(organisation=organisation, user=request.user, work=work)
    context = {"work": work, "length": format_minutes(work.minutes), "form": form if may else None}
    return answer or render(request, "crew/hours/other.html", context)
