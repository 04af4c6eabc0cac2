"""The calendar of shared benders, bookings, and the calendars that other programs read."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, actor_kwargs, parse_day, run_action, save_form
from farmbuild.crew import feeds
from farmbuild.crew.bookings import moving, services
from farmbuild.crew.bookings.bender_warnings import news_of, shared_wear
from farmbuild.crew.bookings.drawings import bars_of, calendars
from farmbuild.crew.bookings.forms import BookingForm, CheckInForm, ConditionForm, MoveForm
from farmbuild.crew.bookings.history import moves_of
from farmbuild.crew.bookings.measuring import MEASURES, hoops_of, record_hoop_of
from farmbuild.crew.bookings.moving import differs_from_request, free_days_of
from farmbuild.crew.bookings.photo_words import photos_told
from farmbuild.crew.bookings.photos import photos_of_booking
from farmbuild.crew.bookings.selectors import (
    COUNTS,
    benders_out,
    bookings_of,
    late_of,
    open_bookings_of,
    open_requests_of,
    past_bookings_of,
    spans_of,
)
from farmbuild.crew.bookings.tables import BookingTable
from farmbuild.crew.bookings.weeks import weeks_from
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking
from farmbuild.hoops.batches.measured.forms import HoopForm
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.clock import today_of, zone_of

ROWS = 20


def shared(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    today = today_of(organisation=organisation)
    weeks = weeks_from(parse_day(request.GET.get("from", "")), today=today)
    pages = Paginator(benders_of(organisation=organisation), ROWS)
    page = pages.get_page(request.GET.get("page"))
    benders = list(page.object_list)
    spans = spans_of(organisation=organisation, today=today, benders=benders)
    bars = bars_of(spans, weeks.start, today)
    late = late_of(organisation=organisation, today=today)
    context = {
        "late": late,
        "wear": shared_wear(organisation=organisation, benders=benders),
        "asked": open_requests_of(organisation=organisation).count(),
        "out": benders_out(organisation=organisation).count(),
        "page": page,
        "bars": bars,
        "drawings": calendars(benders, bars, weeks.start, today),
        "weeks": weeks,
        "today": today,
    }
    return render(request, "crew/bookings/shared.html", context)


class BookingList(OrgList):
    table_class = BookingTable
    template_name = "crew/bookings/bookings.html"

    def get_queryset(self):
        self.archived = self.request.GET.get("past") == "1"
        rows = past_bookings_of if self.archived else open_bookings_of
        organisation = self.request.organisation
        return rows(organisation=organisation, today=today_of(organisation=organisation))


def new(request: HttpRequest) -> HttpResponse:
    form = BookingForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.book(**actor_kwargs(request), **data),
        message=gettext("Booked: {}."),
        redirect_to="crew:shared",
    )
    return answer or render(request, "crew/bookings/booking_form.html", {"form": form})


def _booking(request: HttpRequest, pk: int) -> BenderBooking:
    return get_object_or_404(bookings_of(organisation=request.organisation), pk=pk)


def show(request: HttpRequest, pk: int) -> HttpResponse:
    """The booking, with the form to check out or in when it is time; the form is answered here too."""
    row = _booking(request, pk)
    organisation = request.organisation
    today = today_of(organisation=organisation)
    out, booked = row.state == row.State.OUT, row.state == row.State.BOOKED
    kept_back = services.early_problem(row, today) if booked and row.last >= today else ""
    ready = booked and row.last >= today and not kept_back
    form = None
    if out or ready:
        kind = CheckInForm if out else ConditionForm
        form = kind(request.POST or None, request.FILES or None, organisation=organisation)
        form.fields["condition"].label = gettext("How it comes back") if out else gettext("How it leaves")
        act = services.check_in if out else services.check_out
        says = (
            gettext("%(bender)s is back.") % {"bender": row.bender}
            if out
            else gettext("%(bender)s is out with %(who)s.") % {"bender": row.bender, "who": who(row)}
        )
        answer = save_form(
            request,
            form,
            lambda data: act(**actor_kwargs(request), booking=row, **data),
            message=says,
            redirect_to="crew:shared",
        )
        if answer:
            return answer
    late = next((one for one in late_of(organisation=organisation, today=today) if one.booking == row), None)
    context = {
        "booking": row,
        "who": who(row),
        "days": days_of(row),
        "form": form,
        "out": out,
        "booked": booked,
        "early": ready and row.first > today,
        "kept_back": kept_back if row.first <= today else "",
        "zone": zone_of(organisation=organisation),
        "today": today,
        "late": late,
        "hoops": hoops_of(booking=row),
        "measures": row.state in MEASURES,
        "news": news_of(bender=row.bender, by=True) if booked or out else None,
        "over": booked and row.last < today,
        "differs": differs_from_request(row),
        "free_days": free_days_of(organisation=organisation, booking=row) if out else None,
        "moves": moves_of(row),
        "photos": photos_told(photos_of_booking(booking=row)),
    }
    return render(request, "crew/bookings/booking.html", context)


def hoop(request: HttpRequest, pk: int) -> HttpResponse:
    """What whoever has the bender measured."""
    row = _booking(request, pk)
    form = HoopForm(request.POST or None, organisation=request.organisation, bender=row.bender)
    answer = save_form(
        request,
        form,
        lambda data: record_hoop_of(**actor_kwargs(request), booking=row, data=data),
        message=gettext("Written down."),
        redirect_to=reverse("crew:booking", args=[pk]),
    )
    return answer or render(request, "crew/bookings/hoop.html", {"form": form, "booking": row, "who": who(row)})


def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Other days, or another bender; of one that is out the last day alone."""
    row = _booking(request, pk)
    if row.state not in COUNTS:
        messages.error(
            request,
            gettext("This booking is %(row)s: there is nothing to move.") % {"row": row.get_state_display().lower()},
        )
        return redirect("crew:booking", pk)
    form = MoveForm(request.POST or None, booking=row, organisation=request.organisation)

    def store(data: dict[str, Any]) -> BenderBooking:
        return moving.move(**actor_kwargs(request), booking=row, **{"bender": row.bender, "first": row.first} | data)

    answer = save_form(
        request, form, store, message=gettext("Moved: {}."), redirect_to=reverse("crew:booking", args=[pk])
    )
    if answer:
        return answer
    if request.method == "POST":
        row = _booking(request, pk)
        form.show_now(row)
    out = row.state == row.State.OUT
    context = {
        "booking": row,
        "who": who(row),
        "days": days_of(row),
        "form": form,
        "out": out,
        "free_days": free_days_of(organisation=request.organisation, booking=row) if out else None,
    }
    return render(request, "crew/bookings/move.html", context)


@require_POST
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    row = _booking(request, pk)
    return run_action(
        request,
        lambda: services.cancel(**actor_kwargs(request), booking=row),
        message=gettext("Cancelled. %(bender)s is free again %(days_of)s.")
        % {"bender": row.bender, "days_of": days_of(row)},
        redirect_to="crew:shared",
    )


def _bender(request: HttpRequest, slug: str) -> Bender:
    return get_object_or_404(benders_of(organisation=request.organisation), slug=slug)


def feed(request: HttpRequest, slug: str) -> HttpResponse:
    bender = _bender(request, slug)
    context = {"bender": bender, **feeds.shown_of(request, bender=bender)}
    return feeds.forgotten(render(request, "crew/bookings/feed.html", context))


@require_POST
def make_feed(request: HttpRequest, slug: str) -> HttpResponse:
    made = feeds.make_feed(**actor_kwargs(request), bender=_bender(request, slug))
    return feeds.handed_over(redirect("crew:bender-feed", slug), made)


@require_POST
def revoke_feed(request: HttpRequest, slug: str) -> HttpResponse:
    feeds.revoke_feed(**actor_kwargs(request), bender=_bender(request, slug))
    return redirect("crew:bender-feed", slug)
