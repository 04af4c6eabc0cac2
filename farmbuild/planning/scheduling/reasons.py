"""Why a task has no place in a schedule, as facts; whoever knows the names says it in words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Hindrance(Enum):
    """What stands in the way, each as its sentence in the fields of ``Reason``."""

    NO_WAY = "No way of doing it is given."
    NEVER_ENOUGH = "There is never {amount} of {names} there at once."
    NEVER_TOGETHER = "{names} are never there at the same time."
    NEVER_SO_LONG = "{names} never has {slots} slots without a break."
    NONE_LEFT = "{names} has no {slots} slots left after slot {after}."
    WAITS = "It waits for {task}, which cannot be placed."
    NOBODY_BY_THEN = "Nobody is there any more by the time that it could be done."
    NO_ROOM = "There is no room left for it before the last slot in which someone is there."


@dataclass(frozen=True)
class Reason:
    """``task`` and ``resources`` are references, ``slots`` what the task takes, ``after`` the slot from which it may
    start; what the sentence of the rule does not name is empty."""

    rule: Hindrance
    task: str = ""
    resources: tuple[str, ...] = ()
    amount: int = 0
    slots: int = 0
    after: int = 0

    def __str__(self) -> str:
        return self.rule.value.format(**vars(self), names=" and ".join(self.resources))
