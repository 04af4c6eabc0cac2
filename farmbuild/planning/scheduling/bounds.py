"""What no schedule can be better than."""

from __future__ import annotations

import math

from ortools.linear_solver import pywraplp

from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.calendar import FOREVER, all_of
from farmbuild.planning.scheduling.crowding import crowded, held_hours, lane_hours
from farmbuild.planning.scheduling.problem import Option, Problem, earliest_end
from farmbuild.planning.scheduling.room import room

#: Stretches of time that the work bound tells apart: few for a first bound that comes cheap, then many.
ROUGH, STRETCHES = 4, 40
#: How near each goes to the least end for which it finds enough hours, as a share of the schedule.
ROUGHLY, NEARLY = 0.015, 0.001
#: The effort that one look at 480 tasks takes, and what each stretch adds.
LOOK, EACH_STRETCH = 0.1, 0.015
#: The share of all hours up to which they are enough, with what the solver may be off by.
ENOUGH = 1 + 1e-6


def makespan_bound(problem: Problem) -> int:
    """The longest chain of tasks that wait for each other, with the calendars of those who do them."""
    return max(
        (node.fixed.end if node.fixed is not None else earliest_end(node, node.head) for node in problem.nodes),
        default=0,
    )


def next_end(problem: Problem, slot: int) -> int:
    """The first slot, ``slot`` or later, by which a schedule may end: no last task ends while nobody works on it."""
    found = FOREVER
    for node in problem.nodes:
        if node.following:
            continue
        if node.fixed is not None:
            found = min(found, node.fixed.end) if node.fixed.end >= slot else found
            continue
        for option in node.options:
            if option.duration == 0:
                return slot
            worked = option.calendar.earliest(max(0, slot - 1), 1, pauses=True)
            found = min(found, worked[1]) if worked is not None else found
    return slot if found == FOREVER else found


def late_bound(problem: Problem) -> int:
    """Jobs with a task that ends too late even if nothing else were to be done."""
    return len(
        {
            node.job
            for node in problem.nodes
            if node.task.due is not None
            and (node.fixed.end if node.fixed is not None else earliest_end(node, node.head)) > node.task.due
        }
    )


def work_bound(problem: Problem, makespan: int, budget: Budget, *, share: float = 0.4, looks: int = 0) -> int:
    """The least end for which there are enough hours.

    The tasks' work is spread over their ways and over stretches of time at will, each task within the time that its
    chain leaves it; nobody may be asked for more hours than there are. What is not possible even so is not possible.
    It goes on until ``share`` of the budget is spent, but takes ``looks`` looks at least while the clock allows.
    """
    low = makespan_bound(problem)
    for stretches, share_off in ((ROUGH, ROUGHLY), (STRETCHES, NEARLY)):
        near = max(1, int(makespan * share_off))
        # With more stretches, less is possible: what was enough before need not be, and is tried from below.
        above, end = makespan, (low + makespan) // 2 if stretches == ROUGH else low
        short: tuple[int, float] | None = None
        enough: tuple[int, float] | None = None
        while above - low > near and not (budget.over(share) and looks <= 0):
            if budget.late or budget.ended:
                return low
            looks -= 1
            asked = hours_asked(problem, end, stretches)
            if asked <= ENOUGH:
                above, enough = end, (end, asked)
            else:
                low, short = end + 1, (end, asked)
            budget.spend((LOOK + EACH_STRETCH * stretches) * len(problem.nodes) / 480)
            end = min(max(_next_end(low, above, short, enough), low), above - 1)
    return low


def _next_end(low: int, above: int, short: tuple[int, float] | None, enough: tuple[int, float] | None) -> int:
    """Where what is asked for might come to just what there is, seen from the nearest ends that were looked at."""
    middle = (low + above) // 2
    if short is None or short[1] == math.inf:
        return middle
    end, asked = short
    if enough is None:
        return end + math.ceil(end * (asked - 1))
    return min(middle, end + int((enough[0] - end) * (asked - 1) / (asked - enough[1])))


def has_enough_hours(problem: Problem, end: int, stretches: int = STRETCHES) -> bool:
    """Whether there are enough hours to be done by ``end``, as far as so many stretches tell; see ``work_bound``."""
    return hours_asked(problem, end, stretches) <= ENOUGH


def hours_asked(problem: Problem, end: int, stretches: int) -> float:
    """The least share of their hours for which everybody has to be asked to be done by ``end``; see ``work_bound``.

    Infinity where that is impossible whatever the hours.
    """
    spare = room(problem, [node.index for node in problem.free], _fixed(problem), end)
    if spare.empty or any(node.fixed is not None and node.fixed.end > end for node in problem.nodes):
        return math.inf
    if crowded(problem, spare):  # settled sooner than by the program below
        return math.inf
    edges = sorted({end * k // stretches for k in range(stretches + 1)})
    solver = pywraplp.Solver.CreateSolver("GLOP")
    asked = solver.NumVar(0, solver.infinity(), "")
    hours = Hours(problem, solver, edges, asked)
    for node in problem.free:
        whole = solver.Constraint(1, solver.infinity())
        first, last = spare.first[node.index], spare.last[node.index]
        for option in node.options:
            if option.duration == 0:
                whole.SetBounds(0, solver.infinity())
                continue
            for k in range(len(edges) - 1):
                start, stop = max(first, edges[k]), min(last, edges[k + 1])
                slots = option.calendar.between(start, stop)
                if slots <= 0:
                    continue
                share = solver.NumVar(0, min(1.0, slots / option.duration), "")
                whole.SetCoefficient(share, 1)
                hours.ask_of(option, k, share)
    solver.Minimize(asked)
    status = solver.Solve()
    if status == pywraplp.Solver.OPTIMAL:
        return float(asked.solution_value())
    return math.inf if status == pywraplp.Solver.INFEASIBLE else 0.0


class Hours:
    """What there is of each crew and lane in each stretch between two ``edges``; the share ``asked`` of it if told."""

    def __init__(
        self,
        problem: Problem,
        solver: pywraplp.Solver,
        edges: list[int],
        asked: pywraplp.Variable | None = None,
    ) -> None:
        self._solver = solver
        self._asked = asked
        self._rows: dict[tuple[str, int, int], pywraplp.Constraint] = {}
        for crew, resource in enumerate(problem.crews):
            calendar = all_of([resource], [1])
            for k in range(len(edges) - 1):
                there = calendar.between(edges[k], edges[k + 1])
                self._rows["crew", crew, k] = self._row(there)
        for number, held in enumerate(held_hours(problem)):
            for k in range(len(edges) - 1):
                there = lane_hours(problem.lanes[number], held, edges[k], edges[k + 1])
                self._rows["lane", number, k] = self._row(there)

    def _row(self, there: int) -> pywraplp.Constraint:
        if self._asked is None:
            return self._solver.Constraint(-self._solver.infinity(), there)
        row = self._solver.Constraint(-self._solver.infinity(), 0)
        row.SetCoefficient(self._asked, -there)
        return row

    def ask_of(self, option: Option, stretch: int, share: pywraplp.Variable) -> None:
        """``share`` of the task is done so in the stretch."""
        for crew in option.crews:
            self._ask(("crew", crew, stretch), share, option.duration)
        for lane, amount in option.lanes:
            self._ask(("lane", lane, stretch), share, option.duration * amount)

    def _ask(self, row: tuple[str, int, int], share: pywraplp.Variable, slots: int) -> None:
        constraint = self._rows[row]
        constraint.SetCoefficient(share, constraint.GetCoefficient(share) + slots)


def _fixed(problem: Problem) -> dict[int, tuple[int, int, int]]:
    return {
        node.index: (node.fixed.way, node.fixed.start, node.fixed.end)
        for node in problem.nodes
        if node.fixed is not None
    }
