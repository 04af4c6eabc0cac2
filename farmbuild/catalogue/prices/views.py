"""The page of a material's prices over time."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.prices.drawings import MOST_LINES, chart
from farmbuild.catalogue.prices.selectors import Line, Step, lengths_of, lines_of, lowest
from farmbuild.catalogue.selectors import materials_of
from farmbuild.catalogue.views.materials import paged
from farmbuild.catalogue.words import record_prices
from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day, length_plain
from farmbuild.measure import format_money, format_signed
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation


class StepTable(FarmTable):
    letter = tables.Column("Line", orderable=False)
    supplier = tables.Column("Supplier", orderable=False)
    since = DayColumn("From", orderable=False)
    prices = MoneyColumn(verbose_name="Price of one", orderable=False)
    percent = tables.Column("Change", default="", orderable=False, attrs={"td": {"class": "figure"}})
    pack = QuantityColumn(verbose_name="Pack", unit="pieces", orderable=False)
    lead_days = QuantityColumn(verbose_name="Comes after", unit="days", default="not known", orderable=False)
    who = tables.Column("Who and how", orderable=False)

    class Meta:
        empty_text = "No prices are kept."

    def row_link(self, record: Any) -> str:
        return reverse("catalogue:supplier", args=[record["code"]])

    def render_prices(self, record: Any) -> str:
        return record["prices"]


def prices(request: HttpRequest, code: str) -> HttpResponse:
    organisation = request.organisation
    material = get_object_or_404(materials_of(organisation=organisation), code=code)
    lengths = lengths_of(organisation=organisation, material=material)
    wanted = _wanted(request.GET.get("length", ""), lengths)
    lines = lines_of(organisation=organisation, material=material, length=wanted) if lengths else []
    today = today_of(organisation=organisation)
    answer = _answer(lines, material, wanted, organisation, today)
    rows = [_row(line, step, organisation) for line in lines for step in reversed(line.steps)]
    drawn = any(line.steps for line in lines)
    context = {
        "material": material,
        "answer": answer,
        "lengths": [(str(each), length_plain(each, organisation), each == wanted) for each in lengths if each],
        "drawing": chart(
            lines, currency=organisation.currency, today=today, title=f"Prices of {material}", words=answer
        )
        if drawn
        else "",
        "more": max(0, len(lines) - MOST_LINES),
        "letters": [(line.letter, line.supplier, line.record.pack) for line in lines],
        "table": paged(request, StepTable(rows, organisation=organisation)),
        "count": len(rows),
    }
    return render(request, "catalogue/prices.html", context)


def _wanted(text: str, lengths: list[Decimal | None]) -> Decimal | None:
    """The length that the address names, else the one with the latest price."""
    found = [each for each in lengths if each is not None and str(each) == text]
    return found[0] if found else lengths[0] if lengths else None


def _answer(
    lines: list[Line], material: Material, length: Decimal | None, organisation: Organisation, today: Any
) -> str:
    """At most 18 words."""
    best = lowest(lines, today=today)
    if best is None:
        return f"Nobody offers {material} now." if lines else f"No price of {material} is kept yet."
    step = best.steps[-1]
    price = format_money(step.price, organisation.currency)
    what = "one" if length is None else length_plain(length, organisation)
    changed = f", {_percent(step)} since {day(step.since)}" if step.percent is not None else f" since {day(step.since)}"
    return f"Lowest now: {best.supplier}, {price} for {what}{changed}."


def _percent(step: Step) -> str:
    percent = step.percent
    return "" if percent is None else f"{format_signed(percent, 2 if percent % 1 else 0)} %"


def _row(line: Line, step: Step, organisation: Organisation) -> dict[str, Any]:
    record = step.record
    who = (record.by.get_full_name() or record.by.get_username()) if record.by else ""
    return {
        "letter": line.letter,
        "supplier": line.supplier,
        "code": record.supplier.code,
        "since": step.since,
        "prices": record_prices(record, organisation.currency),
        "percent": _percent(step),
        "pack": record.pack,
        "lead_days": record.lead_days,
        "who": ", ".join(filter(None, (who, record.get_kind_display()))),
    }
