"""What is there, day by day, as two stepped lines told apart by their strokes."""

from __future__ import annotations

from datetime import date, timedelta

from django.utils.safestring import SafeString

from farmbuild.common.drawing import LETTER_BREADTH, Drawing
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count
from farmbuild.plans.availability.bridge import Cause
from farmbuild.plans.availability.selectors import Thing

_WIDE, _HIGH = 280.0, 150.0
#: Days kept free of figures on both sides of one that has its figure, in units of the sheet.
_ROOM = 34.0
#: What happens on which day, in rows under the lines.
_ROWS = {Cause.INCOMING: "comes", Cause.RESERVED: "held", Cause.DEMAND: "wanted"}


def _by_day(thing: Thing) -> tuple[dict[date, int], dict[date, int]]:
    """What is there at the end of each day on which it changes, and what would be there if nothing came."""
    ends: dict[date, int] = {}
    alone: dict[date, int] = {}
    came = 0
    for step in thing.outlook.steps:
        came += step.change.quantity if step.change.cause is Cause.INCOMING else 0
        ends[step.day] = step.balance
        alone[step.day] = step.balance - came
    return ends, alone


def chart(thing: Thing, *, title: str, words: str) -> SafeString:
    ends, alone = _by_day(thing)
    first, last = min(ends), max(max(ends), min(ends) + timedelta(days=14))
    # A little room behind the last change, so that its step is seen.
    span = (last - first).days * 1.06
    top, low = max(0, *ends.values(), *alone.values()), min(0, *ends.values(), *alone.values())
    tall = max(1, top - low)
    figures = ", ".join(f"{format_count(left)} on {day(when)}" for when, left in ends.items())
    drawing = Drawing(_WIDE, _HIGH, title, f"{words} Left at the end of the day: {figures}.")

    def x(when: date) -> float:
        return (when - first).days / span * _WIDE

    def y(pieces: int) -> float:
        return (pieces - low) / tall * _HIGH

    def stepped(line: dict[date, int]) -> list[tuple[float, float]]:
        points: list[tuple[float, float]] = []
        for when, pieces in line.items():
            if points:
                points.append((x(when), points[-1][1]))
            points.append((x(when), y(pieces)))
        return [*points, (_WIDE, points[-1][1])]

    drawing.line(0, y(0), _WIDE, y(0), "thin")
    drawing.text(-6, y(0) - 4, "0", anchor="end")
    if alone != ends:
        drawing.polyline(stepped(alone), "dash")
    drawing.polyline(stepped(ends), "ink")
    short = thing.outlook.short_on
    if short:
        drawing.line(x(short), -6, x(short), _HIGH, "warn")
    placed: list[float] = []
    shown: set[date] = set()
    days = sorted(ends, key=lambda when: (when != first, when != short, ends[when] != min(ends.values()), when))
    for when in days:
        at = x(when)
        if all(abs(at - other) >= _ROOM for other in placed):
            placed.append(at)
            shown.add(when)
            drawing.text(
                at + 3, y(ends[when]) + 5, _figure(ends[when]), "warn" if when == short else "", anchor="start"
            )
    under = -24.0
    drawing.text(0, under, day(first), anchor="start")
    drawing.text(_WIDE, under, day(last), anchor="end")
    if short and short not in (first, last):
        words = f"short {day(short)}"
        half = len(words) * LETTER_BREADTH / 2
        drawing.text(min(max(x(short), half), _WIDE - half), under - 18, words, "warn")
    if (final := ends[max(ends)]) and max(ends) not in shown:
        drawing.text(_WIDE + 5, y(final) - 4, _figure(final), anchor="start")
    row = under - 44
    for cause, name in _ROWS.items():
        sums: dict[date, int] = {}
        for step in thing.outlook.steps:
            if step.change.cause is cause:
                sums[step.day] = sums.get(step.day, 0) + step.change.quantity
        if sums:
            drawing.line(0, row, _WIDE, row, "thin")
            drawing.text(-6, row - 4, name, anchor="end")
            free = -_ROOM
            for when, pieces in sums.items():
                drawing.circle(x(when), row, 3, "ink")
                if x(when) - free >= _ROOM:
                    free = x(when)
                    drawing.text(free, row + 6, format_count(pieces))
            row -= 26
    return drawing.svg()


def _figure(pieces: int) -> str:
    return format_count(pieces).replace("-", "−")
