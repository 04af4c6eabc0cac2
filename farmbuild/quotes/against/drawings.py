"""Cost over time: what was quoted as a line, and what it had cost by each day as a stepped one."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_about, format_money
from farmbuild.quotes.against.selectors import JobCosts

_WIDE, _HIGH = 250.0, 130.0
#: Figures nearer than this stand on each other.
_APART = 14.0


def cost_chart(costs: JobCosts, *, today: date) -> SafeString:
    """Days across, money up. Every step is in its description."""
    steps, budget = costs.by_day, costs.budget_by_day
    days = [when for when, _ in (*steps, *budget)]
    last = max(today, *days)
    first = min(last - timedelta(days=14), *days)
    top = max(Decimal(1), costs.at_completion, *(amount for _, amount in (*steps, *budget)))
    said = [gettext("Quoted, with changes: %(listed)s") % {"listed": _listed(budget, costs.currency)}]
    said.append(
        gettext("Cost so far: %(listed)s") % {"listed": _listed(steps, costs.currency)}
        if steps
        else gettext("Nothing is charged yet")
    )
    drawing = Drawing(_WIDE, _HIGH, gettext("Quoted and actual cost by day"), ". ".join(said) + ".")

    def x(when: date) -> float:
        return (when - first).days / (last - first).days * _WIDE

    def y(amount: Decimal) -> float:
        return float(max(Decimal(0), amount) / top) * _HIGH

    def stepped(rows: list[tuple[date, Decimal]], begin: tuple[float, float] | None) -> list[tuple[float, float]]:
        points = [begin] if begin else []
        for when, amount in rows:
            if points:
                points.append((x(when), points[-1][1]))
            points.append((x(when), y(amount)))
        points.append((_WIDE, points[-1][1]))
        return points

    drawing.line(0, 0, _WIDE, 0, "thin")
    drawing.polyline(stepped(budget, None), "dash")
    quoted = budget[-1][1]
    drawing.text(
        0,
        y(quoted) + 4,
        gettext("quoted %(quoted)s") % {"quoted": format_about(quoted, costs.currency)},
        anchor="start",
    )
    if steps:
        drawing.polyline(stepped(steps, (x(steps[0][0]), 0.0)), "ink")
        at, beside = y(steps[-1][1]), y(quoted) + 4
        at = at - 14 if abs(at + 4 - beside) < _APART else at + 4
        drawing.text(
            _WIDE, at, gettext("actual %(steps)s") % {"steps": format_about(steps[-1][1], costs.currency)}, anchor="end"
        )
    drawing.text(0, -16, day(first), anchor="start")
    drawing.text(_WIDE, -16, gettext("today") if last == today else day(last), anchor="end")
    return drawing.svg()


def _listed(rows: list[tuple[date, Decimal]], currency: str) -> str:
    return ", ".join(
        gettext("%(amount)s from %(day)s") % {"amount": format_money(amount, currency), "day": day(when)}
        for when, amount in rows
    )
