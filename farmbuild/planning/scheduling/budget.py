"""How much work a schedule may take. Work is counted, not timed, so that a busy machine changes nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from farmbuild.planning.scheduling.draft import Draft

#: Effort a second of the time limit where none is given. A unit, as the solver counts its own work, took two to three
#: seconds of one core where this was set, so that the clock cuts in only on slow or very busy machines.
EFFORT_PER_SECOND = 0.25
#: Effort of trying one way of one task by a rule of thumb.
TRY = 1.2e-5
#: Of the first schedule it is told again when so many more tasks have a place.
TELL_EVERY = 100


@dataclass(frozen=True)
class Found:
    """How far the search is. ``share`` of the limit gone, 0 to 1; so many of the ``jobs`` have all their tasks placed.

    ``ends``: the slot by which those end, of which ``late`` are late; ``moved``: tasks that stand elsewhere than
    published, None where nothing is. ``no_sooner``: none ends before that slot, as far as that is proven.
    """

    share: float
    placed: int
    jobs: int
    ends: int
    late: int
    moved: int | None
    no_sooner: int


#: Told now and then; True as the answer ends the search, with the best so far.
Progress = Callable[[Found], bool | None]


class Budget:
    """Counts work against a limit; the clock is only the last resort, and ``late`` tells when it was needed."""

    def __init__(self, seconds: float, effort: float | None, progress: Progress | None) -> None:
        self.limit = EFFORT_PER_SECOND * seconds if effort is None else effort
        self.spent = 0.0
        self.late = False
        #: Whether somebody asked for the best so far.
        self.ended = False
        self.no_sooner = 0
        self._end = time.monotonic() + 0.95 * seconds
        self._seconds = seconds
        self._progress = progress

    def spend(self, work: float) -> None:
        self.spent += work

    def tell(self, draft: Draft) -> None:
        if self._progress is None:
            return
        gone = max(self.spent / self.limit, 1 - self.seconds_left / self._seconds)
        nodes = draft.problem.nodes
        jobs = {node.task.job for node in nodes}
        without = {node.task.job for node in nodes if node.index not in draft.places}
        published = any(node.task.published is not None and node.fixed is None for node in nodes)
        found = Found(
            share=min(1.0, max(0.0, gone)),
            placed=len(jobs - without),
            jobs=len(jobs),
            ends=draft.makespan,
            late=len(draft.late()),
            moved=draft.moved() if published else None,
            no_sooner=self.no_sooner,
        )
        self.ended |= bool(self._progress(found))

    def placed(self, draft: Draft) -> None:
        """Called after each task that a rule of thumb placed."""
        if self._progress is not None and len(draft.places) % TELL_EVERY == 0:
            self.tell(draft)

    @property
    def left(self) -> float:
        return self.limit - self.spent

    @property
    def seconds_left(self) -> float:
        return self._end - time.monotonic()

    def over(self, share: float = 1.0) -> bool:
        """Whether ``share`` of the work allowed is done, the time is up, or somebody asked for the best so far."""
        if not self.late and self.seconds_left <= 0:
            self.late = True
        return self.late or self.ended or self.spent >= share * self.limit
