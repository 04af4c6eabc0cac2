"""How much work a schedule may take. Work is counted, not timed, so that a busy machine changes nothing."""

from __future__ import annotations

import time

from farmbuild.planning.scheduling.problem import Progress

#: Effort a second of the time limit where none is given. A unit, as the solver counts its own work, took two to three
#: seconds of one core where this was set, so that the clock cuts in only on slow or very busy machines.
EFFORT_PER_SECOND = 0.25
#: Effort of trying one way of one task by a rule of thumb.
TRY = 1.2e-5


class Budget:
    """Counts work against a limit; the clock is only the last resort, and ``late`` tells when it was needed."""

    def __init__(self, seconds: float, effort: float | None, progress: Progress | None) -> None:
        self.limit = EFFORT_PER_SECOND * seconds if effort is None else effort
        self.spent = 0.0
        self.late = False
        self._end = time.monotonic() + 0.95 * seconds
        self._seconds = seconds
        self._progress = progress

    def spend(self, work: float) -> None:
        self.spent += work

    def tell(self, doing: str) -> None:
        if self._progress is not None:
            gone = max(self.spent / self.limit, 1 - self.seconds_left / self._seconds)
            self._progress(min(1.0, max(0.0, gone)), doing)

    @property
    def left(self) -> float:
        return self.limit - self.spent

    @property
    def seconds_left(self) -> float:
        return self._end - time.monotonic()

    def over(self, share: float = 1.0) -> bool:
        """Whether ``share`` of the work allowed is done, or the time is up."""
        if not self.late and self.seconds_left <= 0:
            self.late = True
        return self.late or self.spent >= share * self.limit
