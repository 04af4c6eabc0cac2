"""Pages of availability over time: all materials, and one."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from farmbuild.catalogue.selectors import materials_of
from farmbuild.common.paging import paged
from farmbuild.orgs.answers.kept import WORK, Answers
from farmbuild.orgs.clock import today_of
from farmbuild.plans.availability.drawings import levels_of
from farmbuild.plans.availability.forms import AlsoForm
from farmbuild.plans.availability.selectors import Thing, offcuts_of, things_of
from farmbuild.plans.availability.tables import OffcutTable, StepTable, ThingTable
from farmbuild.plans.availability.words import cover_words, name_of, short_words, working

ROWS = 25


@require_GET
def everything(request: HttpRequest) -> HttpResponse:
    also = AlsoForm(request.GET, organisation=request.organisation)
    with Answers(request, dear=True) as answers:
        found = answers.get("availability", lambda: _shown(answers, also), request.GET.urlencode(), without=WORK)
    return render(request, "plans/availability/all.html", {"also": also} | found)


def _shown(answers: Answers, also: AlsoForm) -> dict[str, Any]:
    organisation, request = answers.organisation, answers.request
    today = today_of(organisation=organisation)
    things = things_of(organisation=organisation, today=today, plan=also.chosen)
    short = [thing for thing in things if thing.outlook.short_on]
    table = ThingTable(things, organisation=organisation, plan=also.chosen)
    paged(request, table, rows=ROWS)
    shown = [row.record for row in table.paginated_rows]
    line = levels_of(shown, organisation=organisation, today=today, link=table.row_link)
    said, more = short_words(short[0], today=today) if short else ("", "")
    return {
        "table": table.as_html(request),
        "page": table.page.number,
        "line": answers.shown("parts/season/line.html", line=line) if line else "",
        "count": len(things),
        "short": len(short),
        "first": name_of(short[0], organisation) if short else "",
        "first_link": table.row_link(short[0]) if short else "",
        "words": (f"{said[:1].lower()}{said[1:]}", more) if short else (),
    }


@require_GET
def one(request: HttpRequest, code: str) -> HttpResponse:
    organisation, today = request.organisation, today_of(organisation=request.organisation)
    material = get_object_or_404(materials_of(organisation=organisation), code=code)
    also = AlsoForm(request.GET, organisation=organisation)
    things = things_of(organisation=organisation, today=today, material=material, plan=also.chosen)
    thing = _chosen(things, request.GET.get("length"))
    name, (words, more) = name_of(thing, organisation), short_words(thing, today=today)
    steps = StepTable(thing.outlook.steps, organisation=organisation)
    lengths = ThingTable(
        things,
        organisation=organisation,
        plan=also.chosen,
        prefix="l-",
        exclude=["material", "incoming", "order_by", "covers"],
    )
    offcuts = OffcutTable(offcuts_of(organisation=organisation, material=material), organisation=organisation)
    offcuts.prefix = "o-"
    for table in (steps, lengths, offcuts):
        paged(request, table, rows=ROWS)
    context = {
        "material": material,
        "thing": thing,
        "name": name,
        "words": words,
        "more": more,
        "how": working(thing),
        "covers": [(cover.url, cover_words(cover, today=today)) for cover in thing.covers],
        "also": also,
        "line": levels_of(things, organisation=organisation, today=today, link=lengths.row_link, large=thing),
        "steps": steps,
        "lengths": lengths if len(things) > 1 else None,
        "offcuts": offcuts if offcuts.paginator.count else None,
    }
    return render(request, "plans/availability/one.html", context)


def _chosen(things: list[Thing], asked: str | None) -> Thing:
    """The thing of that length, or the most pressing one."""
    if not asked:
        return things[0]
    try:
        length = Decimal(asked)
    except InvalidOperation as error:
        raise Http404 from error
    for thing in things if length.is_finite() else []:
        if thing.length == length:
            return thing
    raise Http404
