"""What is there, day by day: a line a thing over the season."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from django.utils.translation import gettext

from farmbuild.common.season_line import Level, LevelLine
from farmbuild.common.speaking import said_count
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation
from farmbuild.plans.availability.bridge import Cause
from farmbuild.plans.availability.selectors import Thing
from farmbuild.plans.availability.words import name_of
from farmbuild.stock.words import noun_of


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
    things: Sequence[Thing],
    *,
    organisation: Organisation,
    today: date,
    link: Callable[[Thing], str],
    large: Thing | None = None,
) -> LevelLine:
    """A row a thing, its link to it day by day; ``large``: the one that the page is about."""
    rows = [_level(thing, name_of(thing, organisation), link(thing), large=thing is large) for thing in things]
    title = gettext("What is there of each material, day by day")
    if large:
        name = gettext("%(material)s: pieces there by day") % {"material": name_of(large, organisation)}
        return LevelLine(name, rows, today, noun="length")
    return LevelLine(title, rows, today)


def _level(thing: Thing, name: str, href: str, *, large: bool) -> Level:
    out = thing.outlook
    if out.short_on:
        missing = said_count(out.most_short, noun_of(thing.material, offcut=False))
        note = gettext("%(missing)s short") % {"missing": missing}
    elif len(out.steps) > 1:
        note = gettext("%(now)s now, %(left)s left") % {
            "now": format_count(thing.on_hand),
            "left": format_count(out.balance),
        }
    else:
        note = gettext("%(now)s now") % {"now": format_count(thing.on_hand)}
    ends, alone = _by_day(thing)
    coming, taken = _sums(thing, Cause.INCOMING), _sums(thing, Cause.RESERVED, Cause.DEMAND)
    return Level(
        name,
        href,
        tuple(ends.items()),
        tuple(coming.items()),
        tuple(taken.items()),
        out.short_on,
        note,
        large=large,
        alone=tuple(alone.items()) if large and alone != ends else (),
    )


def _sums(thing: Thing, *causes: Cause) -> dict[date, int]:
    sums: dict[date, int] = {}
    for step in thing.outlook.steps:
        if step.change.cause in causes:
            sums[step.day] = sums.get(step.day, 0) + step.change.quantity
    return sums
