"""The ridge of a set house as the planner sees it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.shape import HouseShape
from farmbuild.planning.ridge.misses import nearest
from farmbuild.planning.ridge.moves import HoopMove, in_steps
from farmbuild.planning.ridge.plan import SetHoop, straighten
from farmbuild.planning.work.knowing import to_know

__all__ = ["HoopMove", "RidgeSight", "SetHoop", "sight_ridge", "step_of", "to_know_of"]

#: What a person can set by hand: 1/16 in, 1 mm (common practice, no source).
_STEPS = {UnitSystem.IMPERIAL: Decimal("1.5875"), UnitSystem.METRIC: Decimal(1)}


def to_know_of(shape: HouseShape, *, sticks: int, units: UnitSystem | str) -> tuple[str, ...]:
    """What who sights the ridge must know; ``sticks``: in a hoop."""
    return to_know(WorkKind.SIGHT, shape, joined=sticks > 1, units=UnitSystem(units))


def step_of(units: UnitSystem | str) -> Decimal:
    """The smallest move that is asked for, mm."""
    return _STEPS[UnitSystem(units)]


@dataclass(frozen=True)
class RidgeSight:
    """Moves in whole steps, one for each hoop given. ``exact_total`` is what the program needs before rounding.

    ``reachable``: exact moves bring every hoop within the tolerance. ``miss``: by how much the worst hoop stays
    outside it after the rounded moves, mm, 0 for none.
    """

    moves: tuple[HoopMove, ...]
    start: float
    slope: float
    exact_total: float
    reachable: bool
    miss: float


def sight_ridge(
    hoops: Sequence[SetHoop], *, tolerance: Decimal, slope: Decimal | None, units: UnitSystem | str
) -> RidgeSight:
    """The least moves that bring the hoops to one line. At least one hoop; lengths in mm."""
    within, angle = float(tolerance), None if slope is None else float(slope)
    # From the lowest ridge: small figures keep the program exact.
    low = min(hoop.height for hoop in hoops)
    shifted = [replace(hoop, height=hoop.height - low) for hoop in hoops]
    plan = straighten(shifted, tolerance=within, slope=angle)
    reachable = plan.worst is None
    if not reachable:
        plan = nearest(shifted, tolerance=within, slope=angle)
    plan = replace(plan, start=plan.start + low)
    rounded = in_steps(hoops, plan, tolerance=within, step=step_of(units))
    return RidgeSight(rounded.hoops, plan.start, plan.slope, plan.total, reachable, rounded.miss)
