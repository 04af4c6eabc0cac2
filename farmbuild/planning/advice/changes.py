"""What of a house may give a little, and a season with it changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from farmbuild.measure import Usual
from farmbuild.measure.speech import gettext_noop
from farmbuild.planning.house.fields import INCH
from farmbuild.planning.house.spec import House, HouseSpec
from farmbuild.planning.inputs import Season


@dataclass(frozen=True)
class Give:
    """A field that may change by at most ``most``, down or ``up``; ``along`` changes by as much.

    How much is common practice, no source. ``caution`` says what the builder has to look at before.
    """

    field: str
    most: Usual
    caution: str
    up: bool = False
    along: tuple[str, ...] = ()
    #: Only houses that are alike in these too change together.
    beside: tuple[str, ...] = ()


def _inches(imperial: str, metric: int) -> Usual:
    return Usual(Decimal(imperial) * INCH, Decimal(metric))


GIVES = (
    Give(
        "post_length",
        _inches("1", 25),
        gettext_noop(
            "A shorter post holds less. The height of the house stays, so the post stands that much less deep."
        ),
        along=("post_depth",),
    ),
    Give(
        "spacing_wanted",
        _inches("3", 75),
        gettext_noop(
            "Hoops further apart carry less wind and snow. Ask whoever answers for that before you change it."
        ),
        up=True,
        beside=("length",),
    ),
    Give("length", _inches("3", 75), gettext_noop("Beds, end frames and film follow the length of the house.")),
    Give(
        "purlin_insertion",
        _inches("0.5", 12),
        gettext_noop("A purlin that goes in less holds less. The maker of the tube may say the least."),
    ),
    Give(
        "purlin_sleeve_length",
        _inches("1", 25),
        gettext_noop("A shorter sleeve holds less. Its screws must still sit well in."),
    ),
    Give(
        "brace_length",
        _inches("2", 50),
        gettext_noop("A shorter brace stands steeper. See that it still meets post and hoop."),
    ),
    Give(
        "end_stud_spacing",
        _inches("2", 50),
        gettext_noop("Studs further apart carry less wind. Doors and film have to fit between them."),
        up=True,
    ),
    Give(
        "front_door_width",
        _inches("1", 25),
        gettext_noop("See that what you drive through the door still goes through."),
    ),
    Give(
        "front_door_height",
        _inches("1", 25),
        gettext_noop("See that what you drive through the door still goes through."),
    ),
    Give(
        "back_door_width",
        _inches("1", 25),
        gettext_noop("See that what you drive through the door still goes through."),
    ),
    Give(
        "back_door_height",
        _inches("1", 25),
        gettext_noop("See that what you drive through the door still goes through."),
    ),
    Give(
        "film_side_allowance", _inches("2", 50), gettext_noop("Film that is too short cannot be drawn tight or buried.")
    ),
    Give(
        "film_end_allowance", _inches("2", 50), gettext_noop("Film that is too short cannot be drawn tight or buried.")
    ),
    Give(
        "curtain_spare",
        _inches("1", 25),
        gettext_noop("A curtain needs enough over its height to be rolled and fixed."),
    ),
)
BY_FIELD = {give.field: give for give in GIVES}


@dataclass(frozen=True)
class Change:
    """One field of some houses that all have ``old`` there, to ``new``; mm."""

    field: str
    houses: tuple[str, ...]
    old: Decimal
    new: Decimal

    @property
    def by(self) -> Decimal:
        return abs(self.new - self.old)

    def apply(self, house: House) -> House:
        if house.ref not in self.houses:
            return house
        moved: dict[str, Any] = {self.field: self.new}
        for name in BY_FIELD[self.field].along:
            was = getattr(house.spec, name)
            if was:
                moved[name] = was + self.new - self.old
        return replace(house, spec=replace(house.spec, **moved))


def changed(season: Season, change: Change) -> Season:
    return replace(season, houses=tuple(change.apply(house) for house in season.houses))


def alike(season: Season) -> Iterator[tuple[Give, Decimal, tuple[House, ...]]]:
    """For each field that may give: the houses that have one value there, and are built with it."""
    for give in GIVES:
        groups: dict[tuple[Decimal, tuple[Decimal, ...]], list[House]] = {}
        for house in season.houses:
            if (value := _value(house.spec, give)) is not None:
                groups.setdefault(value, []).append(house)
        for (old, _), houses in groups.items():
            yield give, old, tuple(houses)


def _value(spec: HouseSpec, give: Give) -> tuple[Decimal, tuple[Decimal, ...]] | None:
    old = getattr(spec, give.field)
    return (old, tuple(getattr(spec, name) for name in (*give.along, *give.beside))) if old else None
