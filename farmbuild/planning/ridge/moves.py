"""The moves of a sighted ridge in steps that a person can set by hand, checked again after rounding. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor

from farmbuild.planning.ridge.plan import RidgePlan, SetHoop

#: A linear program's answer is this rough; nothing in a yard is measured so finely.
DUST = 1e-3


@dataclass(frozen=True)
class HoopMove:
    """``move`` is whole steps, above 0 upwards; ``before`` and ``after`` are how far the ridge is above the line."""

    line: float
    before: float
    move: Decimal
    after: float


@dataclass(frozen=True)
class RidgeMoves:
    """One HoopMove a hoop, in order. ``miss``: by how much the worst hoop stays outside the tolerance, 0 for none."""

    hoops: tuple[HoopMove, ...]
    miss: float

    @property
    def total(self) -> Decimal:
        return sum((abs(hoop.move) for hoop in self.hoops), Decimal(0))


def in_steps(hoops: Sequence[SetHoop], plan: RidgePlan, *, tolerance: float, step: Decimal) -> RidgeMoves:
    """The fewest whole steps of each hoop that bring it as near to the plan's line as the plan does.

    No move is longer than the travel. Where no whole number of steps comes near enough, the one that comes nearest
    is taken, and ``miss`` tells. Raises ValueError for a step of 0 or less.
    """
    if step <= 0:
        raise ValueError("A step is longer than zero.")
    moves = []
    for hoop, exact in zip(hoops, plan.moves, strict=True):
        line = plan.start + plan.slope * hoop.at
        before = hoop.height - line
        down = before > 0
        reach = max(tolerance, abs(before + exact))
        steps = _steps(abs(before), hoop.down if down else hoop.up, reach, float(step))
        move = step * steps * (-1 if down else 1)
        moves.append(HoopMove(line, before, move, before + float(move)))
    miss = max((abs(move.after) for move in moves), default=0.0) - tolerance
    return RidgeMoves(tuple(moves), miss if miss > DUST else 0.0)


def _steps(off: float, travel: float, reach: float, step: float) -> int:
    """The fewest whole steps towards the line that leave no more than ``reach``, as far as the travel goes."""
    if off <= reach + DUST:
        return 0
    most = floor((travel + DUST) / step)
    wanted = min(ceil((off - reach - DUST) / step), most)
    # A step too far may miss the line by as much or more on the other side.
    return wanted - 1 if wanted and abs(off - wanted * step) >= abs(off - (wanted - 1) * step) else wanted
