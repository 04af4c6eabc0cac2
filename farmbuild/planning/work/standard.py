"""The usual steps of a pipe-framed house, who they take, what waits for what, and how long a unit takes.

Order and head-counts: common practice, no source. Rates: our own estimates, no source, there to be replaced by
what a crew records.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.work.order import Wait, waits_for

K = WorkKind


@dataclass(frozen=True)
class StandardStep:
    """``people`` at once; ``high``: one of them works on a ladder."""

    kind: WorkKind
    people: int
    after: tuple[WorkKind, ...] = ()
    high: bool = False


#: Set and spring in takes two, one at each end; sighting takes three, one of them on a ladder.
STEPS: tuple[StandardStep, ...] = (
    StandardStep(K.SURVEY, 2),
    # Sawn at once, before the first of the pieces is needed.
    StandardStep(K.SAW, 1),
    StandardStep(K.POSTS, 2, (K.SURVEY, K.SAW)),
    StandardStep(K.MARK, 1),
    StandardStep(K.TRIAL, 2, (K.MARK,)),
    StandardStep(K.BEND, 2, (K.TRIAL,)),
    StandardStep(K.JOIN, 2, (K.BEND,)),
    StandardStep(K.SET, 2, (K.POSTS, K.JOIN)),
    StandardStep(K.SIGHT, 3, (K.SET,), high=True),
    StandardStep(K.RIDGE, 2, (K.SIGHT,), high=True),
    StandardStep(K.HIP, 2, (K.SIGHT,)),
    StandardStep(K.BASE, 2, (K.SIGHT,)),
    StandardStep(K.ENDS, 2, (K.RIDGE,), high=True),
    StandardStep(K.ANCHORS, 1, (K.RIDGE,)),
    # A covered house is a sail: frame, boards, end walls and anchors are all there before the film.
    StandardStep(K.FILM, 4, (K.HIP, K.BASE, K.ENDS, K.ANCHORS), high=True),
)

WAITS: tuple[Wait, ...] = tuple(Wait(step.kind, after) for step in STEPS for after in step.after)


@dataclass(frozen=True)
class StandardRate:
    """Person-minutes for one unit, and once a house."""

    each: Decimal
    once: Decimal


def _rate(each: str, once: int) -> StandardRate:
    return StandardRate(Decimal(each), Decimal(once))


RATES: dict[WorkKind, StandardRate] = {
    K.SURVEY: _rate("4", 90),
    K.SAW: _rate("2", 30),
    K.POSTS: _rate("10", 30),
    K.MARK: _rate("3", 15),
    K.TRIAL: _rate("3", 120),
    K.BEND: _rate("2", 30),
    K.JOIN: _rate("6", 15),
    K.SET: _rate("20", 30),
    K.SIGHT: _rate("15", 60),
    K.RIDGE: _rate("25", 30),
    K.HIP: _rate("2.5", 30),
    K.BASE: _rate("2.5", 30),
    K.ENDS: _rate("15", 60),
    K.FILM: _rate("2.5", 120),
    K.ANCHORS: _rate("20", 15),
}
#: Of what is counted in metres by those who measure in them: the same, round.
RATES_IN_METRES: dict[WorkKind, StandardRate] = {
    K.HIP: _rate("8", 30),
    K.BASE: _rate("8", 30),
    K.FILM: _rate("8", 120),
}


def standard_rate(kind: WorkKind, units: UnitSystem) -> StandardRate:
    return RATES_IN_METRES.get(kind, RATES[kind]) if units is UnitSystem.METRIC else RATES[kind]


RATES_SOURCE = "Our own estimate, no source. Replace it by what your crews record."


def gate_problem(kinds: Iterable[str], waits: Iterable[Wait]) -> str:
    """Why the trial hoop is no gate in these steps; "" when it is, or when no batch is bent."""
    kinds = set(kinds)
    if K.BEND not in kinds:
        return ""
    if K.TRIAL not in kinds:
        return "A wrong first hoop spoils a whole stack of pipe. Keep the step Trial hoop where the batch is bent."
    if not waits_for(K.BEND, K.TRIAL, waits):
        return "Bend the batch has to wait for the trial hoop. Choose Trial hoop in one of the boxes it waits for."
    return ""


@dataclass(frozen=True)
class Spread:
    """Person-minutes for one unit over ``records`` pieces of recorded work."""

    records: int
    median: Decimal
    lowest: Decimal
    highest: Decimal


def spread_of(work: Iterable[tuple[Decimal, int]]) -> Spread | None:
    """``work``: person-minutes and units done, each as recorded; without either it says nothing. To 0.01 min."""
    each = [(minutes / units).quantize(Decimal("0.01")) for minutes, units in work if minutes > 0 and units > 0]
    if not each:
        return None
    return Spread(len(each), median(each).quantize(Decimal("0.01")), min(each), max(each))
