"""Pages of working hours, days off and journeys."""

from __future__ import annotations

from itertools import combinations
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import OrgList, actor_kwargs, first_rows, get_object_or_none, run_action, save_form
from farmbuild.crew.people import calendar_services as services
from farmbuild.crew.people.forms import DaysOffForm
from farmbuild.crew.people.selectors import (
    coming_days_off_of,
    days_off_of,
    people_of,
    settings_of,
    travel_rows_of,
    travel_sites_of,
    weeks_of,
)
from farmbuild.crew.people.tables import DayOffTable, WeekTable
from farmbuild.crew.people.travel_forms import TravelForm
from farmbuild.crew.people.week_forms import WeekForm
from farmbuild.crew.people.words import days_words, off_words

#: Up to so many sites every pair stands on one page; beyond, the journeys of one site.
SITES_ON_A_PAGE = 12
ROADS_ON_A_PAGE = 50


class WeekList(OrgList):
    table_class = WeekTable
    template_name = "crew/people/weeks.html"
    rows = weeks_of


def week(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    row = get_object_or_404(weeks_of(organisation=request.organisation), pk=pk) if pk else None
    form = WeekForm(request.POST or None, organisation=request.organisation, week=row)
    answer = save_form(
        request,
        form,
        lambda data: services.save_week(**actor_kwargs(request), week=row, name=data["name"], hours=data["hours"]),
        message=gettext("{} is saved."),
        redirect_to="crew:weeks",
    )
    zone = request.organisation.time_zone
    return answer or render(request, "crew/people/week_form.html", {"form": form, "week": row, "zone": zone})


@require_POST
def remove_week(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(weeks_of(organisation=request.organisation), pk=pk)
    return run_action(
        request,
        lambda: services.remove_week(**actor_kwargs(request), week=row),
        message=gettext("%(row)s is removed.") % {"row": row},
        redirect_to="crew:weeks",
    )


class DayOffList(OrgList):
    table_class = DayOffTable
    template_name = "crew/people/days_off.html"

    def get_queryset(self):
        self.archived = self.request.GET.get("past") == "1"
        return coming_days_off_of(organisation=self.request.organisation, past=self.archived)


def add_days_off(request: HttpRequest) -> HttpResponse:
    person = get_object_or_none(people_of(organisation=request.organisation), slug=request.GET.get("person"))
    form = DaysOffForm(request.POST or None, organisation=request.organisation, initial={"person": person})
    answer = save_form(
        request,
        form,
        lambda data: off_words(services.add_days_off(**actor_kwargs(request), **data)),
        message="{}",
        redirect_to=person or "crew:days-off",
    )
    return answer or render(request, "crew/people/day_off_form.html", {"form": form, "person": person})


def day_off(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(days_off_of(organisation=request.organisation), pk=pk)
    days = days_words(row.first, row.last)
    return render(request, "crew/people/day_off.html", {"day_off": row, "days": days})


@require_POST
def remove_day_off(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(days_off_of(organisation=request.organisation), pk=pk)
    return run_action(
        request,
        lambda: services.remove_days_off(**actor_kwargs(request), day_off=row),
        message=gettext("%(who)s works %(days)s as usual.")
        % {"who": row.person or gettext("Everybody"), "days": days_words(row.first, row.last)},
        redirect_to=row.person or "crew:days-off",
    )


def travel(request: HttpRequest) -> HttpResponse:
    """One form of all pairs, or, of many sites, of one site's pairs."""
    organisation = request.organisation
    sites = travel_sites_of(organisation=organisation)
    usual = settings_of(organisation=organisation).travel_minutes
    first, many = first_rows(sites, SITES_ON_A_PAGE)
    context: dict[str, Any] = {"usual": usual, "few": len(first) < 2, "many": many}
    address = reverse("crew:travel")
    rows = travel_rows_of(organisation=organisation)
    if many:
        site = get_object_or_404(sites, slug=request.GET["from"]) if request.GET.get("from") else first[0]
        others = travel_sites_of(organisation=organisation, but=site)
        page = Paginator(others, ROADS_ON_A_PAGE).get_page(request.GET.get("page"))
        pairs = [(site, other) for other in page]
        rows = travel_rows_of(organisation=organisation, site=site)
        context |= {"sites": sites, "site": site, "page": page}
        address = f"{address}?{urlencode({'from': site.slug, 'page': page.number})}"
    else:
        pairs = list(combinations(first, 2))
    kept = {(row.one_id, row.other_id): row.minutes for row in rows}
    form = TravelForm(request.POST or None, organisation=organisation, pairs=pairs, stored=kept, usual=usual)
    answer = save_form(
        request,
        form,
        lambda data: services.set_travel(**actor_kwargs(request), minutes=form.minutes),
        message=gettext("The travel times are saved."),
        redirect_to=address,
    )
    listed = travel_rows_of(organisation=organisation).count()
    return answer or render(request, "crew/people/travel.html", context | {"form": form, "listed": listed})
