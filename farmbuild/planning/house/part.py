"""What a part of a house gives the rest: its take-off rows, its checks, and the work on it.

What is drawn of a part is in its module too, as plain values that ``drawn.py`` gathers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from farmbuild.measure import UnitSystem
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.results import TakeoffRow


class WorkKind(StrEnum):
    """Kinds of work in the usual order of building."""

    SURVEY = "survey"
    SAW = "saw"
    POSTS = "posts"
    MARK = "mark"
    TRIAL = "trial"
    BEND = "bend"
    JOIN = "join"
    SET = "set"
    SIGHT = "sight"
    RIDGE = "ridge"
    HIP = "hip"
    BASE = "base"
    ENDS = "ends"
    FILM = "film"
    ANCHORS = "anchors"


#: The crew's pages call them the same, which a test holds.
WORK_NAMES = {
    WorkKind.SURVEY: _("Survey and mark out"),
    WorkKind.SAW: _("Saw pieces"),
    WorkKind.POSTS: _("Ground posts"),
    WorkKind.MARK: _("Mark sticks"),
    WorkKind.TRIAL: _("Trial hoop"),
    WorkKind.BEND: _("Bend the batch"),
    WorkKind.JOIN: _("Join and screw"),
    WorkKind.SET: _("Set and spring in"),
    WorkKind.SIGHT: _("Sight and adjust"),
    WorkKind.RIDGE: _("Ridge and purlins"),
    WorkKind.HIP: _("Hip boards"),
    WorkKind.BASE: _("Base boards"),
    WorkKind.ENDS: _("End walls"),
    WorkKind.FILM: _("Film"),
    WorkKind.ANCHORS: _("Anchors"),
}


@dataclass(frozen=True)
class PartWork:
    """One kind of work. ``unit``: what one of it is called, and many, where that does not just take an s; ``metric``:
    what it is for those who measure in metres, where it is a length.

    ``count`` gives how many there are and how that was counted, in words with the numbers in; 0: the house has none.
    """

    kind: WorkKind
    unit: tuple[str, str]
    count: Callable[[HouseContext], tuple[int, str]]
    metric: tuple[str, str] | None = None

    def unit_in(self, units: UnitSystem) -> tuple[str, str]:
        return self.metric if self.metric and units is UnitSystem.METRIC else self.unit


def _no_rows(house: HouseContext) -> list[TakeoffRow]:
    return []


def _no_problem(house: SpecContext) -> Iterable[SpecProblem]:
    return ()


@dataclass(frozen=True)
class Part:
    """One part of a house.

    ``rows``: what it takes. ``purposes``: of those rows, and the kinds of work that use each up; none of that work
    starts before it is on site. ``sizes``: what keeps it from having a shape; ``fits``: from being built in the shape
    that the house has. Both are asked only of specs whose fields are right, each by itself. ``remarks``: what is
    allowed and must be known; asked only of a house that can be built. ``said``: sections of the form, each in one
    line as it is typed, whether or not it can be built.
    """

    rows: Callable[[HouseContext], list[TakeoffRow]] = _no_rows
    purposes: Mapping[str, tuple[WorkKind, ...]] = field(default_factory=dict)
    sizes: Callable[[SpecContext], Iterable[SpecProblem]] = _no_problem
    fits: Callable[[HouseContext], Iterable[SpecProblem]] = _no_problem
    remarks: Callable[[HouseContext], Iterable[SpecProblem]] = _no_problem
    works: tuple[PartWork, ...] = ()
    said: Mapping[str, Callable[[SpecContext], str]] = field(default_factory=dict)


#: Said of a part that the house does not have.
NONE = sentence("none")


def quantity_of(rows: Iterable[TakeoffRow]) -> int:
    return sum(row.quantity for row in rows)


def workings_of(rows: Iterable[TakeoffRow]) -> str:
    return joined("; ", (row.working for row in rows))
