"""A member writes down a hoop that it measured, and takes it back."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from farmbuild.common.pages import save_form
from farmbuild.crew.bookings.own import services
from farmbuild.crew.bookings.own.selectors import own_hoops_of, own_measured_bookings_of
from farmbuild.crew.bookings.own.whose import as_member
from farmbuild.crew.models import Member
from farmbuild.hoops.batches.measured.forms import HoopForm, ReasonForm

_METHODS = ["GET", "HEAD", "POST"]


@require_http_methods(_METHODS)
@as_member
def hoop(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    booking = get_object_or_404(own_measured_bookings_of(member=member), pk=pk)
    form = HoopForm(request.POST or None, organisation=member.organisation, bender=booking.bender)
    answer = save_form(
        request,
        form,
        lambda data: services.record_own_hoop(member=member, user=request.user, booking=booking, data=data),
        message=gettext("Written down."),
        redirect_to=reverse("crew:own-booking", args=[member.organisation.slug, pk]),
    )
    context = {"form": form, "booking": booking, "member": member, "lender": member.organisation}
    return answer or render(request, "crew/bookings/own/hoop.html", context)


@require_http_methods(_METHODS)
@as_member
def hoop_back(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    row = get_object_or_404(own_hoops_of(member=member), pk=pk)
    form = ReasonForm(request.POST or None, organisation=member.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_back_own_hoop(member=member, user=request.user, row=row, **data),
        message=gettext("Taken back. It stays in the record."),
        redirect_to=reverse("crew:own-booking", args=[member.organisation.slug, row.booking_id]),
    )
    context = {"form": form, "row": row, "member": member, "lender": member.organisation}
    return answer or render(request, "crew/bookings/own/hoop_back.html", context)
