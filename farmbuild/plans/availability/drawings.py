"""What is there, day by day: a line a thing over the season, and one thing large with what would be if nothing came."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from django.utils.safestring import SafeString

from farmbuild.common.drawing import LETTER_BREADTH, Drawing
from farmbuild.common.season_line import Level, LevelLine
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.models import Organisation
from farmbuild.plans.availability.bridge import Cause
from farmbuild.plans.availability.selectors import Thing
from farmbuild.plans.availability.words import name_of
from farmbuild.stock.words import noun_of

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


def levels_of(
    things: Sequence[Thing], *, organisation: Organisation, today: date, link: Callable[[Thing], str]
) -> LevelLine:
    """A row a thing, its link to it day by day."""
    rows = [_level(thing, name_of(thing, organisation), link(thing)) for thing in things]
    return LevelLine("What is there of each material, day by day", rows, today)


def _level(thing: Thing, name: str, href: str) -> Level:
    out = thing.outlook
    if out.short_on:
        note = f"{count_noun(out.most_short, noun_of(thing.material, offcut=False))} short"
    else:
        left = f", {format_count(out.balance)} left" if len(out.steps) > 1 else ""
        note = f"{format_count(thing.on_hand)} now{left}"
    ends, _ = _by_day(thing)
    coming, taken = _sums(thing, Cause.INCOMING), _sums(thing, Cause.RESERVED, Cause.DEMAND)
    return Level(name, href, tuple(ends.items()), tuple(coming.items()), tuple(taken.items()), out.short_on, note)


def _sums(thing: Thing, *causes: Cause) -> dict[date, int]:
    sums: dict[date, int] = {}
    for step in thing.outlook.steps:
        if step.change.cause in causes:
            sums[step.day] = sums.get(step.day, 0) + step.change.quantity
    return sums


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
        if sums := _sums(thing, cause):
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
