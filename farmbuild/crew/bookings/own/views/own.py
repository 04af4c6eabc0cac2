"""The pages of a member who signs in. Each takes the member from the sign-in, never from the address."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, parse_day, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.crew import feeds
from farmbuild.crew.bookings import member_requests
from farmbuild.crew.bookings.forms import OwnRequestForm
from farmbuild.crew.bookings.history import moves_of
from farmbuild.crew.bookings.own import selectors
from farmbuild.crew.bookings.own.drawings import day_sheets, told_of
from farmbuild.crew.bookings.own.tables import OwnBookingTable, OwnRequestTable
from farmbuild.crew.bookings.signins import sign_in_of
from farmbuild.crew.bookings.tables import what
from farmbuild.crew.bookings.weeks import coming_weeks_from
from farmbuild.crew.bookings.words import days_of
from farmbuild.crew.models import MemberSignIn
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.clock import today_of, zone_in_force

BENDERS = 20


def of_member(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Calls ``view(request, sign_in, …)``; nobody else is told that there is such a page."""

    @wraps(view)
    def wrapped(request: HttpRequest, **kwargs: Any) -> HttpResponse:
        sign_in = sign_in_of(user=request.user)
        if sign_in is None:
            raise Http404("Not a sign-in of a member.")
        with zone_in_force(sign_in.member.organisation):
            return view(request, sign_in, **kwargs)

    return wrapped


def _page(request: HttpRequest, name: str, sign_in: MemberSignIn, context: dict[str, Any]) -> HttpResponse:
    member = sign_in.member
    return render(
        request, f"crew/bookings/own/{name}.html", {"member": member, "lender": member.organisation} | context
    )


@require_GET
@of_member
def show(request: HttpRequest, sign_in: MemberSignIn) -> HttpResponse:
    """What is out, to come and asked for; with ``past`` what is over."""
    member = sign_in.member
    organisation = member.organisation
    today = today_of(organisation=organisation)
    past = request.GET.get("past") == "1"
    bookings = selectors.own_past_bookings_of if past else selectors.own_open_bookings_of
    requests = selectors.own_answered_requests_of if past else selectors.own_open_requests_of
    tables = {
        "bookings": OwnBookingTable(bookings(member=member, today=today), organisation=organisation, prefix="b-"),
        "requests": OwnRequestTable(requests(member=member), organisation=organisation, prefix="r-"),
    }
    for table in tables.values():
        paged(request, table, rows=ROWS)
    context = tables | {
        "past": past,
        "today": today,
        "late": selectors.own_late_of(member=member, today=today),
        "out": selectors.own_benders_out(member=member).count(),
        "next": selectors.own_next_booking(member=member, today=today),
        "asked": selectors.own_open_requests_of(member=member).count(),
        "counts": {name: table.paginator.count for name, table in tables.items()},
    }
    return _page(request, "own", sign_in, context)


@require_http_methods(["GET", "HEAD", "POST"])
@of_member
def ask(request: HttpRequest, sign_in: MemberSignIn) -> HttpResponse:
    form = OwnRequestForm(request.POST or None, organisation=sign_in.member.organisation)
    answer = save_form(
        request,
        form,
        lambda data: member_requests.create_own_request(sign_in=sign_in, data=data),
        message="Asked. You see here once it is booked.",
        redirect_to="crew:own",
    )
    return answer or _page(request, "ask", sign_in, {"form": form})


@require_GET
@of_member
def show_request(request: HttpRequest, sign_in: MemberSignIn, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.own_requests_of(member=sign_in.member), pk=pk)
    booking = getattr(row, "booking", None)
    return _page(request, "request", sign_in, {"row": row, "what": what(row), "booking": booking})


@require_POST
@of_member
def withdraw(request: HttpRequest, sign_in: MemberSignIn, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.own_requests_of(member=sign_in.member), pk=pk)
    return run_action(
        request,
        lambda: member_requests.withdraw_own_request(sign_in=sign_in, request=row),
        message="Your request is withdrawn.",
        redirect_to="crew:own",
        refused_redirect_to=reverse("crew:own-request", args=[pk]),
    )


@require_GET
@of_member
def show_booking(request: HttpRequest, sign_in: MemberSignIn, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.own_bookings_of(member=sign_in.member), pk=pk)
    today = today_of(organisation=sign_in.member.organisation)
    late = selectors.own_late_of(member=sign_in.member, today=today)
    context = {
        "booking": row,
        "days": days_of(row),
        "today": today,
        "moves": moves_of(row),
        "late": next((one for one in late if one.booking == row), None),
    }
    return _page(request, "booking", sign_in, context)


@require_GET
@of_member
def days(request: HttpRequest, sign_in: MemberSignIn) -> HttpResponse:
    """When each bender is free or taken, for four weeks."""
    member = sign_in.member
    today = today_of(organisation=member.organisation)
    weeks = coming_weeks_from(parse_day(request.GET.get("from", "")), today=today)
    page = Paginator(benders_of(organisation=member.organisation), BENDERS).get_page(request.GET.get("page"))
    benders = list(page.object_list)
    stretches = selectors.stretches_of(member=member, benders=benders, start=weeks.start, end=weeks.end, today=today)
    context = {
        "page": page,
        "drawings": day_sheets(benders, stretches, weeks.start, today),
        "told": [told_of(bender, stretches) for bender in benders],
        "free": selectors.free_on(today, stretches) if weeks.has(today) else None,
        "today": today,
        "weeks": weeks,
    }
    return _page(request, "days", sign_in, context)


@require_GET
@of_member
def calendar(request: HttpRequest, sign_in: MemberSignIn) -> HttpResponse:
    """The address by which the member's own calendar can be read in other programs."""
    return feeds.forgotten(_page(request, "calendar", sign_in, feeds.shown_of(request, member=sign_in.member)))


@require_POST
@of_member
def make_calendar(request: HttpRequest, sign_in: MemberSignIn) -> HttpResponse:
    made = feeds.make_own_feed(sign_in=sign_in)
    return feeds.handed_over(redirect("crew:own-calendar"), made)


@require_POST
@of_member
def revoke_calendar(request: HttpRequest, sign_in: MemberSignIn) -> HttpResponse:
    feeds.revoke_own_feed(sign_in=sign_in)
    return redirect("crew:own-calendar")
