"""The pages of a member's bookings. Whose they are says the sign-in or the farm of whoever asks; the address, which
cooperative is meant."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.encoding import escape_uri_path
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, parse_day, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.common.views.understood import understood_for
from farmbuild.crew import feeds
from farmbuild.crew.bookings.bender_warnings import news_of, own_findings
from farmbuild.crew.bookings.forms import OwnRequestForm
from farmbuild.crew.bookings.having import had_of
from farmbuild.crew.bookings.history import moves_of
from farmbuild.crew.bookings.measuring import MEASURES, hoops_of
from farmbuild.crew.bookings.own import selectors, services
from farmbuild.crew.bookings.own.drawings import day_sheets, told_of
from farmbuild.crew.bookings.own.tables import OwnBookingTable, OwnRequestTable
from farmbuild.crew.bookings.own.whose import as_member, members_of
from farmbuild.crew.bookings.photo_words import photos_told
from farmbuild.crew.bookings.photos import photos_of_booking
from farmbuild.crew.bookings.selectors import COUNTS
from farmbuild.crew.bookings.tables import what
from farmbuild.crew.bookings.weeks import coming_weeks_from
from farmbuild.crew.bookings.words import days_of
from farmbuild.crew.models import Member
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.orgs.clock import today_of

BENDERS = 20


def before(request: HttpRequest, rest: str = "") -> HttpResponse:
    """From an address of before, which named no cooperative, on to the same page; what was typed goes along."""
    member = next(iter(members_of(request)), None)
    if member is None:
        raise Http404("Not a sign-in of a member.")
    path = reverse("coop:seen", args=[member.organisation.slug])
    query = request.META.get("QUERY_STRING", "")
    address = f"{path}{escape_uri_path(rest)}{'?' if query else ''}{query}"
    return HttpResponseRedirect(address, preserve_request=request.method == "POST")


def _first(member: Member) -> str:
    return reverse("crew:own", args=[member.organisation.slug])


def _page(request: HttpRequest, name: str, member: Member, context: dict[str, Any]) -> HttpResponse:
    return render(
        request, f"crew/bookings/own/{name}.html", {"member": member, "lender": member.organisation} | context
    )


@require_GET
@as_member
def understood(request: HttpRequest, member: Member) -> JsonResponse:
    """What was typed on a page of the member, as the forms there read it: in units and numbers of the cooperative."""
    return understood_for(member.organisation, request.GET)


@require_GET
@as_member
def show(request: HttpRequest, member: Member) -> HttpResponse:
    """What is out, to come and asked for; with ``past`` what is over."""
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
        "findings": [] if past else own_findings(member=member),
        "out": selectors.own_benders_out(member=member).count(),
        "had": had_of(member=member),
        "next": selectors.own_next_booking(member=member, today=today),
        "asked": selectors.own_open_requests_of(member=member).count(),
        "counts": {name: table.paginator.count for name, table in tables.items()},
    }
    return _page(request, "own", member, context)


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def ask(request: HttpRequest, member: Member) -> HttpResponse:
    form = OwnRequestForm(request.POST or None, organisation=member.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_own_request(member=member, user=request.user, data=data),
        message=gettext("Asked. You see here once it is booked."),
        redirect_to=_first(member),
    )
    return answer or _page(request, "ask", member, {"form": form})


@require_GET
@as_member
def show_request(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.own_requests_of(member=member), pk=pk)
    booking = getattr(row, "booking", None)
    return _page(request, "request", member, {"row": row, "what": what(row), "booking": booking})


@require_POST
@as_member
def withdraw(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.own_requests_of(member=member), pk=pk)
    return run_action(
        request,
        lambda: services.withdraw_own_request(member=member, user=request.user, request=row),
        message=gettext("Your request is withdrawn."),
        redirect_to=_first(member),
        refused_redirect_to=reverse("crew:own-request", args=[member.organisation.slug, pk]),
    )


@require_GET
@as_member
def show_booking(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.own_bookings_of(member=member), pk=pk)
    today = today_of(organisation=member.organisation)
    late = selectors.own_late_of(member=member, today=today)
    context = {
        "booking": row,
        "days": days_of(row),
        "today": today,
        "moves": moves_of(row),
        "news": news_of(bender=row.bender, by=False) if row.state in COUNTS else None,
        "hoops": hoops_of(booking=row),
        "measures": row.state in MEASURES,
        "photos": photos_told(photos_of_booking(booking=row), lender=member.organisation.slug),
        "late": next((one for one in late if one.booking == row), None),
    }
    return _page(request, "booking", member, context)


@require_GET
@as_member
def days(request: HttpRequest, member: Member) -> HttpResponse:
    """When each bender is free or taken, for four weeks."""
    today = today_of(organisation=member.organisation)
    weeks = coming_weeks_from(parse_day(request.GET.get("from", "")), today=today)
    page = Paginator(benders_of(organisation=member.organisation), BENDERS).get_page(request.GET.get("page"))
    benders = list(page.object_list)
    stretches = selectors.stretches_of(member=member, benders=benders, start=weeks.start, end=weeks.end, today=today)
    context = {
        "page": page,
        "findings": own_findings(member=member),
        "drawings": day_sheets(benders, stretches, weeks.start, today, member.organisation.slug),
        "told": [told_of(bender, stretches) for bender in benders],
        "free": selectors.free_on(today, stretches) if weeks.has(today) else None,
        "today": today,
        "weeks": weeks,
    }
    return _page(request, "days", member, context)


@require_GET
@as_member
def calendar(request: HttpRequest, member: Member) -> HttpResponse:
    """The address by which the member's own calendar can be read in other programs."""
    return feeds.forgotten(_page(request, "calendar", member, feeds.shown_of(request, member=member)))


@require_POST
@as_member
def make_calendar(request: HttpRequest, member: Member) -> HttpResponse:
    made = services.make_own_feed(member=member, user=request.user)
    return feeds.handed_over(redirect("crew:own-calendar", member.organisation.slug), made)


@require_POST
@as_member
def revoke_calendar(request: HttpRequest, member: Member) -> HttpResponse:
    services.revoke_own_feed(member=member, user=request.user)
    return redirect("crew:own-calendar", member.organisation.slug)
