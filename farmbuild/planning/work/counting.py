"""The work of one house, counted: how many pulls, posts, joints or feet of board each kind of it is.

Minutes follow from counts and rates. Counts come from the take-off and from the hoop's recipe, so that a longer
house, a closer spacing or another recipe changes the days that it takes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from farmbuild.measure import UnitSystem, count_noun, format_count, format_decimal
from farmbuild.measure.lengths import FOOT_MM
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.spec import House
from farmbuild.planning.materials import Material
from farmbuild.planning.work import sawing

#: Work is planned by the quarter of an hour.
STEP_MINUTES = 15
_CENT = Decimal("0.01")

_WORKS = {work.kind: work for work in (*(work for part in PARTS for work in part.works), sawing.WORK)}
#: Counted in feet, or in metres by those who measure in them.
BY_LENGTH = frozenset(kind for kind in WorkKind if _WORKS[kind].metric)
#: Purposes of take-off rows that each kind of work uses up; it cannot start before they are on site.
USES: dict[WorkKind, frozenset[str]] = {
    kind: frozenset(purpose for part in PARTS for purpose, kinds in part.purposes.items() if kind in kinds)
    for kind in WorkKind
}


@dataclass(frozen=True)
class WorkCount:
    """``count`` 0: the house has none of it. ``working``: how it was counted, in words with the numbers in. ``units``:
    in which it was counted."""

    kind: WorkKind
    count: int
    working: str
    units: UnitSystem = UnitSystem.IMPERIAL

    @property
    def words(self) -> str:
        return count_noun(self.count, *unit_names(self.kind, self.units))


def unit_names(kind: WorkKind, units: UnitSystem) -> tuple[str, str]:
    """What one unit of that work is called: one, and many."""
    return _WORKS[kind].unit_in(units)


def in_units_of(each: Decimal, kind: WorkKind, made: UnitSystem, wanted: UnitSystem) -> Decimal:
    """Minutes for one unit of ``made`` as those for one of ``wanted``; to the hundredth where they differ."""
    if made is wanted or kind not in BY_LENGTH:
        return each
    feet_in_metre = 1000 / FOOT_MM
    return (each * feet_in_metre if wanted is UnitSystem.METRIC else each / feet_in_metre).quantize(
        _CENT, ROUND_HALF_UP
    )


def count_work(house: House, materials: Mapping[str, Material], units: UnitSystem) -> tuple[WorkCount, ...]:
    """Count every kind of work of a house that passes ``check_spec``, in the usual order of building."""
    built = house_context(house.spec, materials, units, house.ref)
    return tuple(WorkCount(kind, *_WORKS[kind].count(built), units) for kind in WorkKind)


def person_minutes(count: int, minutes_each: Decimal, minutes_once: Decimal) -> Decimal:
    """What one person would need alone."""
    return count * minutes_each + minutes_once


def minutes_on_site(count: int, minutes_each: Decimal, minutes_once: Decimal, people: int) -> int:
    """(count x minutes each + minutes once) / people, up to the next quarter of an hour."""
    steps = person_minutes(count, minutes_each, minutes_once) / people / STEP_MINUTES
    return int(steps.to_integral_value(ROUND_CEILING)) * STEP_MINUTES


def duration_words(count: int, minutes_each: Decimal, minutes_once: Decimal, people: int) -> str:
    """The sum of ``minutes_on_site`` as it would stand on paper."""
    total = person_minutes(count, minutes_each, minutes_once)
    minutes = minutes_on_site(count, minutes_each, minutes_once, people)
    sum_ = f"{format_count(count)} x {_plain(minutes_each)} + {_plain(minutes_once)} = {_plain(total)} person-minutes"
    split = f"; shared by {people}: {_plain((total / people).quantize(Decimal('0.1')))} minutes" if people > 1 else ""
    return f"{sum_}{split}; rounded up to quarter hours: {format_count(minutes)}"


def _plain(number: Decimal) -> str:
    return format_decimal(number.normalize())
