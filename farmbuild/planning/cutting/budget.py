"""How much work a plan may take. Work is counted, not timed, so that a busy machine changes nothing."""

from __future__ import annotations

import time
from collections.abc import Callable

#: Counted work a second allowed for. One unit was about a nanosecond where this was set, a margin of about
#: three, so that the clock cuts in only on slow or very busy machines.
WORK_PER_SECOND = 350_000_000

#: Effort a second of the time limit where none is given.
EFFORT_PER_SECOND = 1.5


class Budget:
    """Counts work against a limit; the clock is only the last resort, and ``late`` tells when it was needed."""

    def __init__(
        self,
        seconds: float,
        progress: Callable[[float, str], bool | None] | None = None,
        effort: float | None = None,
    ) -> None:
        self.limit_seconds = seconds
        self.effort = EFFORT_PER_SECOND * seconds if effort is None else effort
        self.limit = int(self.effort * WORK_PER_SECOND)
        self.spent = 0
        self.late = False
        #: Whether somebody asked for the best so far.
        self.ended = False
        self._end = time.monotonic() + 0.9 * seconds
        self._progress = progress

    def spend(self, work: int, doing: str = "") -> None:
        self.spent += work
        if self._progress is not None and doing:
            self.ended |= bool(self._progress(min(1.0, self.spent / self.limit), doing))

    @property
    def seconds_left(self) -> float:
        return self._end - time.monotonic()

    def part(self, share: float) -> Budget:
        """A budget of its own, with a share of this one's limits."""

        def told(_: float, doing: str) -> bool:
            self.spend(0, doing)
            return self.ended

        return Budget(share * self.limit_seconds, told, share * self.effort)

    def over(self, share: float = 1.0) -> bool:
        """Whether ``share`` of the work allowed is done, the time is up, or somebody asked for the best so far."""
        if not self.late and self.seconds_left <= 0:
            self.late = True
        return self.late or self.ended or self.spent >= share * self.limit
