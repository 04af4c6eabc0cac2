"""Pages of what is left after a season: the list, its file, and throwing out short offcuts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.paging import paged
from farmbuild.common.speaking import as_kept
from farmbuild.common.templatetags.farm import day as day_words
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.clock import today_of
from farmbuild.plans.seasonend.bridge import SeasonError, Serving, serving_of
from farmbuild.plans.seasonend.forms import ScrapOffcutsForm, SeasonEndForm, read_takes
from farmbuild.plans.seasonend.selectors import (
    MAX_HOUSES,
    given_up,
    houses_to_tick,
    left_after,
    left_heaps,
    left_piles,
    left_totals,
    lots_for_nobody,
    short_offcuts,
    spares_asked,
)
from farmbuild.plans.seasonend.services import scrap_offcuts
from farmbuild.plans.seasonend.tables import LeftTable, age_of
from farmbuild.plans.seasonend.words import serves, spare_words
from farmbuild.stock.bridge import units_of
from farmbuild.stock.piles.presenters import picture_of
from farmbuild.workbooks.season_end import LeftLine, season_end_workbook
from farmbuild.workbooks.services import XLSX

ROWS = 25
#: Materials drawn on one page.
MATERIALS = 28


@dataclass(frozen=True)
class _Asked:
    form: SeasonEndForm
    day: date
    #: Ages and the planning count from here: a season that is over is looked at today.
    on: date
    houses: list[Any]
    serving: Mapping[str, Serving] | None
    problems: tuple[str, ...]


def _asked(request: HttpRequest) -> _Asked:
    organisation, today = request.organisation, today_of(organisation=request.organisation)
    form = SeasonEndForm(request.GET, organisation=organisation, today=today)
    asked = form.asked
    day, houses = asked["day"], list(asked["houses"])
    on = day if day > today else today
    serving: Mapping[str, Serving] | None = None
    problems: tuple[str, ...] = ()
    if len(houses) > MAX_HOUSES:
        problems = (
            f"{format_count(len(houses))} houses are more than a page can work out. Tick {MAX_HOUSES} at most.",
        )
    else:
        try:
            serving = serving_of(organisation=organisation, houses=houses, as_of=on)
        except SeasonError as error:
            problems = error.reasons
    return _Asked(form, day, on, houses, serving, problems)


@require_GET
def left(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    if "after" in request.GET:
        return _with_houses_after(request)
    asked = _asked(request)
    below = asked.form.asked["below"]
    rows = left_after(organisation=organisation, day=asked.day, houses=asked.houses)
    totals = left_totals(rows, organisation=organisation)
    table = LeftTable(rows, organisation=organisation, totals=totals, serving=asked.serving, on=asked.on)
    paged(request, table, rows=ROWS)
    heaps = left_heaps(rows, organisation=organisation)
    drawn = Paginator(heaps.materials, MATERIALS).get_page(request.GET.get("piles"))
    piles = left_piles(rows, heaps=heaps, materials=drawn.object_list)
    spares, more = short_offcuts(organisation=organisation, below=below, serving=asked.serving or {})
    context = {
        "form": asked.form,
        "day": asked.day,
        "below": below,
        "houses": asked.houses,
        "problems": asked.problems,
        "worked_out": asked.serving is not None,
        "serving": len(asked.serving or {}),
        "serving_none": lots_for_nobody(totals, asked.serving or {}),
        "totals": totals,
        "table": table,
        "drawn": drawn,
        "picture": picture_of(piles, organisation=organisation),
        "spares": [(spare, spare_words(spare, organisation), age_of(spare.lot, on=asked.on)) for spare in spares],
        "more": more,
        "given_up": given_up(spares),
        "query": request.GET.urlencode(),
    }
    return render(request, "plans/seasonend/left.html", context)


def _with_houses_after(request: HttpRequest) -> HttpResponse:
    """The same page with the houses ticked that are needed after the day typed."""
    query = request.GET.copy()
    del query["after"]
    organisation = request.organisation
    form = SeasonEndForm(query, organisation=organisation, today=today_of(organisation=organisation))
    houses = houses_to_tick(organisation=request.organisation, day=form.asked["day"])
    query.setlist("houses", [str(house.pk) for house in houses])
    return redirect(f"{reverse('stock:season-end')}?{query.urlencode()}")


@require_GET
def left_file(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    asked = _asked(request)
    lines = (
        LeftLine(
            str(lot.material),
            lot.length,
            lot.offcut,
            lot.left,
            str(lot.place),
            lot.reference,
            age_of(lot, on=asked.on),
            "not worked out" if asked.serving is None else serves(asked.serving.get(lot.reference), organisation),
            lot.worth,
        )
        for lot in left_after(organisation=organisation, day=asked.day, houses=asked.houses)
    )
    names = ", ".join(house.name for house in asked.houses) or "none"
    with as_kept():
        data = season_end_workbook(
            lines=lines,
            day=asked.day,
            told=f"Last day of the season: {day_words(asked.day)}. Houses of the next season: {names}.",
            author=organisation.name,
            units=units_of(organisation),
            currency=organisation.currency,
        )
    headers = {"Content-Disposition": content_disposition_header(True, f"left-{asked.day}.xlsx")}
    return HttpResponse(data, content_type=XLSX, headers=headers)


def scrap(request: HttpRequest) -> HttpResponse:
    """Shows what goes; only a second press takes it out."""
    organisation = request.organisation
    if request.method != "POST":
        return redirect("stock:season-end")
    try:
        takes = read_takes(request.POST.getlist("take"))
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect("stock:season-end")
    if not takes:
        messages.error(request, gettext("Nothing was ticked. Tick the offcuts that go, then press the button."))
        return redirect("stock:season-end")
    confirmed = "confirm" in request.POST
    form = ScrapOffcutsForm(request.POST if confirmed else None, organisation=organisation)
    spares = spares_asked(organisation=organisation, takes=takes)
    if confirmed and form.is_valid():
        try:
            made = scrap_offcuts(organisation=organisation, user=request.user, takes=takes, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            pieces = count_noun(given_up(spares).pieces, "offcut")
            messages.success(
                request,
                gettext("%(pieces)s of %(made)s scrapped.") % {"pieces": pieces, "made": count_noun(len(made), "lot")},
            )
            return redirect("stock:season-end")
    context = {
        "form": form,
        "spares": [(spare, spare_words(spare, organisation)) for spare in spares],
        "takes": request.POST.getlist("take"),
        "given_up": given_up(spares),
    }
    return render(request, "plans/seasonend/scrap.html", context)
