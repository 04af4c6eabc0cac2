"""What a work schedule is made from and what it says: plain values, no database.

Time is counted in whole slots from the start of the schedule. A slot is a fixed stretch of real time (a quarter of
an hour, say), so clock changes never shorten one; whoever fills these in turns local working hours into windows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from farmbuild.planning.scheduling.reasons import Reason


@dataclass(frozen=True)
class Window:
    """From slot ``start`` up to, not including, ``end``, ``capacity`` of the resource is there."""

    start: int
    end: int
    capacity: int


@dataclass(frozen=True)
class Resource:
    """A crew, a bender, or anything that only so much can be done with at once.

    ``windows`` do not overlap and rise; None: ``capacity`` is always there; else the windows alone say how much is
    there and when, and after the last of them nothing is. A resource that ``travels`` is at one place at a time and
    does one task at a time; the amount that a task needs of it is how many of its people have to be there meanwhile.
    Else tasks share it: in each slot, the tasks that hold it and need no more of it than is there fit together.
    """

    ref: str
    capacity: int
    windows: tuple[Window, ...] | None = None
    travels: bool = False


@dataclass(frozen=True)
class Need:
    resource: str
    amount: int = 1


@dataclass(frozen=True)
class Way:
    """One way to do a task: everything that it needs at once, and how many slots of work it takes so."""

    needs: tuple[Need, ...]
    duration: int


@dataclass(frozen=True)
class After:
    """The task starts no sooner than ``lag`` slots of real time after ``task`` has ended. ``lag`` is 0 or more."""

    task: str
    lag: int = 0


@dataclass(frozen=True)
class Placed:
    """``way`` is the place of the chosen way in the task's ``ways``; ``end`` counts pauses too."""

    task: str
    start: int
    end: int
    way: int


@dataclass(frozen=True)
class Task:
    """``job`` is the house it belongs to: a house is late when any of its tasks ends after that task's ``due``.

    A task starts and works only while all that its way needs is there; where ``pauses`` is true it stops for the
    night and goes on when all of it is there again, holding what it needs meanwhile; else it is done in one go.
    ``fixed``: it stays there whatever comes. ``published``: where it stood in the schedule people already follow.
    A way of no duration is a mark in time: it holds nothing, whatever it needs.
    """

    ref: str
    ways: tuple[Way, ...]
    after: tuple[After, ...] = ()
    release: int = 0
    due: int | None = None
    job: str = ""
    place: str = ""
    pauses: bool = True
    fixed: Placed | None = None
    published: Placed | None = None


@dataclass(frozen=True)
class Resources:
    """``travel``: slots between two places, in the order given; the other order when only that is listed; else
    ``travel_else``. Between a place and itself, or when either is "", it is 0. It is kept between any two tasks
    of a resource that travels, in real time, so that a journey may lie in the night."""

    resources: tuple[Resource, ...]
    travel: Mapping[tuple[str, str], int] = field(default_factory=dict)
    travel_else: int = 0


@dataclass(frozen=True)
class WorkPlan:
    """``bound`` is proven: no schedule with as few late jobs ends sooner. ``late_bound``: none has fewer late jobs.

    ``optimal``: both are met. ``gap``: how far ``makespan`` may be above the least, as a share of ``makespan``.
    ``moved``: tasks that stand elsewhere, or are done another way, than published. Tasks that cannot be placed at
    all (nobody is ever there for them) are in ``unplaced``, each with what stands in the way, way by way; so are those
    that wait for them.
    ``broken``: pairs of a task and a fixed one that starts before it may after that task, since it cannot be helped.
    """

    placed: tuple[Placed, ...]
    makespan: int
    bound: int
    optimal: bool
    late: tuple[str, ...] = ()
    late_bound: int = 0
    moved: tuple[str, ...] = ()
    unplaced: tuple[tuple[str, tuple[Reason, ...]], ...] = ()
    broken: tuple[tuple[str, str], ...] = ()
    method: str = ""

    @property
    def gap(self) -> float:
        return 0.0 if self.makespan == 0 else (self.makespan - self.bound) / self.makespan
