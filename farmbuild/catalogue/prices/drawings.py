"""Prices over time: a stepped line an offer, each told by its letter, price up and days across."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.catalogue.prices.selectors import Line
from farmbuild.common.drawing import Drawing
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_money

_WIDE, _HIGH = 250.0, 150.0
#: Letters of a line that is drawn; more lines would stand on each other, and the table has them all.
MOST_LINES = 8
_APART, _ON = 15.0, 14.0


def chart(lines: Sequence[Line], *, currency: str, today: date, title: str, words: str) -> SafeString:
    """``words``: the answer; every price and day is in the description too. There is at least one step."""
    shown = [line for line in lines if line.steps][:MOST_LINES]
    steps = [step for line in shown for step in line.steps]
    last = max(today, *(step.since for step in steps))
    first = min(last - timedelta(days=14), *(step.since for step in steps))
    low, top = min(step.price for step in steps), max(step.price for step in steps)
    room = (top - low) or top or Decimal(1)
    floor, tall = low - room / 5, room * Decimal("1.4")
    said = "; ".join(
        f"{line.letter} {line.supplier}: "
        + ", ".join(
            gettext("%(amount)s from %(day)s") % {"amount": format_money(step.price, currency), "day": day(step.since)}
            for step in line.steps
        )
        for line in shown
    )
    drawing = Drawing(_WIDE, _HIGH, title, f"{words} {said}.")

    def x(when: date) -> float:
        return (when - first).days / (last - first).days * _WIDE

    def y(price: Decimal) -> float:
        return float((price - floor) / tall) * _HIGH

    drawing.line(0, 0, _WIDE, 0, "thin")
    for price in dict.fromkeys((low, top)):
        drawing.line(0, y(price), _WIDE, y(price), "thin")
        drawing.text(0, y(price) + 4, format_money(price, currency), anchor="start")
    ends: list[float] = []
    for line in shown:
        points: list[tuple[float, float]] = []
        for step in line.steps:
            if points:
                points.append((x(step.since), points[-1][1]))
            points.append((x(step.since), y(step.price)))
        goes_on = not line.end or line.end >= last
        # What goes on runs a little past today, so that a price of today is seen.
        points.append((_WIDE + _ON if goes_on else max(x(line.end or last), points[-1][0]), points[-1][1]))
        drawing.polyline(points, "ink")
        for step in line.steps:
            drawing.circle(x(step.since), y(step.price), 2.5, "ink")
        at = _free(points[-1][1], ends)
        drawing.text(points[-1][0] + 5, at - 4, line.letter, anchor="start")
    drawing.text(0, -16, day(first), anchor="start")
    drawing.line(_WIDE, -4, _WIDE, _HIGH, "thin")
    drawing.text(_WIDE, -16, gettext("today") if last == today else day(last), anchor="end")
    return drawing.svg()


def _free(wanted: float, taken: list[float]) -> float:
    """The height nearest to ``wanted`` at which no other letter stands."""
    tries = [wanted] + [wanted + sign * n * _APART for n in range(1, MOST_LINES + 1) for sign in (1, -1)]
    found = next(height for height in tries if all(abs(height - other) >= _APART - 0.01 for other in taken))
    taken.append(found)
    return found
