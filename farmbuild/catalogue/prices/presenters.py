"""What the page of a material's prices shows, gathered once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.prices.drawings import MOST_LINES, chart
from farmbuild.catalogue.prices.selectors import Line, Step, lengths_of, lines_of, lowest
from farmbuild.catalogue.words import record_prices
from farmbuild.common.templatetags.farm import day, length_plain
from farmbuild.measure import format_money, format_signed
from farmbuild.orgs.models import Organisation


@dataclass(frozen=True)
class Prices:
    """``lengths``: for the address, in words, and whether it is shown. ``letters``: of the lines that are drawn, with
    supplier and pack. ``more``: lines that are not."""

    answer: str
    lengths: list[tuple[str, str, bool]]
    drawing: SafeString | str
    letters: list[tuple[str, str, int]]
    more: int
    rows: list[dict[str, Any]]


def prices_of(*, organisation: Organisation, material: Material, length: str, today: date) -> Prices:
    """``length``: as the address names it."""
    lengths = lengths_of(organisation=organisation, material=material)
    wanted = _wanted(length, lengths)
    lines = lines_of(organisation=organisation, material=material, length=wanted) if lengths else []
    answer = _answer(lines, material, wanted, organisation, today)
    drawn = [line for line in lines if line.steps]
    title = gettext("Prices of %(material)s") % {"material": material}
    return Prices(
        answer=answer,
        lengths=[(str(each), length_plain(each, organisation), each == wanted) for each in lengths if each],
        drawing=chart(drawn, currency=organisation.currency, today=today, title=title, words=answer) if drawn else "",
        letters=[(line.letter, line.supplier, line.record.pack) for line in drawn[:MOST_LINES]],
        more=max(0, len(drawn) - MOST_LINES),
        rows=[_row(line, step, organisation) for line in lines for step in reversed(line.steps)],
    )


def _wanted(text: str, lengths: list[Decimal | None]) -> Decimal | None:
    """The length that the address names, else the one with the latest price."""
    found = [each for each in lengths if each is not None and str(each) == text]
    return found[0] if found else lengths[0] if lengths else None


def _answer(
    lines: list[Line], material: Material, length: Decimal | None, organisation: Organisation, today: date
) -> str:
    """At most 18 words."""
    best = lowest(lines, today=today)
    if best is None:
        return (
            gettext("Nobody offers %(material)s now.") % {"material": material}
            if lines
            else gettext("No price of %(material)s is kept yet.") % {"material": material}
        )
    step = best.steps[-1]
    price = format_money(step.price, organisation.currency)
    what = gettext("one") if length is None else length_plain(length, organisation)
    changed = (
        gettext(", %(percent)s since %(day)s") % {"percent": _percent(step), "day": day(step.since)}
        if step.percent is not None
        else gettext(" since %(day)s") % {"day": day(step.since)}
    )
    return gettext("Lowest now: %(supplier)s, %(price)s for %(what)s%(changed)s.") % {
        "supplier": best.supplier,
        "price": price,
        "what": what,
        "changed": changed,
    }


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
