"""The whole schedule as one model, where it is small enough for that."""

from __future__ import annotations

from typing import Protocol

from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.calendar import FOREVER
from farmbuild.planning.scheduling.draft import Draft, Place
from farmbuild.planning.scheduling.model import Goal, Model, Solved
from farmbuild.planning.scheduling.problem import Problem, earliest_end
from farmbuild.planning.scheduling.room import room

#: Most ways of all free tasks together, and pairs of tasks of one crew, that one model takes.
MAX_WAYS = 300
MAX_PAIRS = 3000


class Found(Protocol):
    draft: Draft
    bound: int
    late_bound: int


class Whole:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.free = [node.index for node in problem.free]
        self.staying = {
            node.index: (node.fixed.way, node.fixed.start, node.fixed.end)
            for node in problem.nodes
            if node.fixed is not None
        }
        ways = sum(len(node.options) for node in problem.free)
        pairs = 0
        for crew in range(len(problem.crews)):
            held = sum(any(crew in option.crews for option in node.options) for node in problem.free)
            pairs += held * held // 2
        self.small = ways <= MAX_WAYS and pairs <= MAX_PAIRS

    def solve(self, found: Found, budget: Budget, share: float) -> None:
        """Fewest late jobs, then the shortest, within ``share`` of the budget; better places go into ``found``."""
        if len(found.draft.late()) > found.late_bound:
            self._fewest_late(found, budget, share)
        late = len(found.draft.late())
        if found.draft.makespan > found.bound and not budget.over(share):
            self._shortest(found, budget, share, late)

    def _fewest_late(self, found: Found, budget: Budget, share: float) -> None:
        horizon = self._safe_horizon(found.draft.makespan)
        # Of what is left, half goes to the shortest schedule.
        model = Model(
            self.problem, room(self.problem, self.free, self.staying, horizon), self.staying, horizon, Goal(1, None, 0)
        )
        model.hint(found.draft.places)
        solved = model.solve((share * budget.limit - budget.spent) / 2, budget.seconds_left / 2)
        budget.spend(solved.work)
        found.late_bound = max(found.late_bound, int(-(-solved.bound // 1)))
        if solved.places is not None:
            self._take(found.draft, solved.places)
        found.late_bound = min(found.late_bound, len(found.draft.late()))

    def none_sooner(self, found: Found, budget: Budget, share: float) -> None:
        """Look for a schedule that ends sooner, however little, until there is none or ``share`` is spent.

        That is settled sooner than which is the shortest, since it leaves fewer places to go to, but until it is
        settled nothing is known of the bound.
        """
        late = len(found.draft.late())
        while found.draft.makespan > found.bound and not budget.over(share):
            solved = self._by(found, found.draft.makespan - 1, budget, share, late)
            if solved is None or (solved.places is None and not solved.proven):
                break

    def _shortest(self, found: Found, budget: Budget, share: float, late: int) -> None:
        solved = self._by(found, found.bound, budget, share, late)
        if solved is None:
            return
        if solved.places is not None and solved.proven:
            found.bound = found.draft.makespan
        elif not solved.proven:
            found.bound = max(found.bound, self._bound(found, solved.bound))

    def _by(self, found: Found, ends: int, budget: Budget, share: float, late: int) -> Solved | None:
        """Sooner than now, and as little after ``ends`` as can be. None when that is seen to be impossible."""
        horizon = found.draft.makespan - 1
        spare = room(
            self.problem, self.free, self.staying, horizon, in_time=() if late else range(len(self.problem.jobs))
        )
        if spare.empty or max((place[2] for place in self.staying.values()), default=0) > horizon:
            found.bound = found.draft.makespan
            return None
        model = Model(self.problem, spare, self.staying, horizon, Goal(ends=ends, at_most_late=late if late else None))
        budget.no_sooner = found.bound
        budget.tell(found.draft)
        solved = model.solve(share * budget.limit - budget.spent, budget.seconds_left)
        budget.spend(solved.work)
        budget.late |= solved.clock
        if solved.places is not None:
            self._take(found.draft, solved.places)
        elif solved.proven:
            found.bound = found.draft.makespan
        return solved

    def _bound(self, found: Found, above: float) -> int:
        """Of a model that minimises what comes after ``found.bound``."""
        return min(found.draft.makespan, found.bound + max(0, round(above)))

    def _take(self, draft: Draft, places: dict[int, Place]) -> None:
        draft.places = {**draft.places, **places}

    def _safe_horizon(self, makespan: int) -> int:
        """Whatever is in time ends by the last due date; all else fits one by one after that."""
        nodes, travel = self.problem.nodes, self.problem.travel
        slot = max([makespan, *(node.task.due or 0 for node in nodes), *(node.task.release for node in nodes)])
        gap = max((max(row) for row in travel), default=0)
        gap += max((lag for node in nodes for _, lag in node.before), default=0)
        for k in self.problem.order:
            node = nodes[k]
            if node.fixed is not None:
                continue
            end = earliest_end(node, slot + gap)
            if end > FOREVER:
                # The calendars end first, so they bound the schedule.
                calendars = [option.calendar for node in self.problem.free for option in node.options]
                return max(slot, *(calendar.ends[-1] for calendar in calendars if calendar.ends[-1] < FOREVER))
            slot = max(slot, end)
        return slot + gap
