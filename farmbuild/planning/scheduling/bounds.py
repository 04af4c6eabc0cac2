"""What no schedule can be better than."""

from __future__ import annotations

from ortools.linear_solver import pywraplp

from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.calendar import all_of
from farmbuild.planning.scheduling.crowding import crowded, held_hours, lane_hours
from farmbuild.planning.scheduling.problem import Option, Problem, earliest_end
from farmbuild.planning.scheduling.room import room

#: Stretches of time that the work bound tells apart: few for a first bound that comes cheap, then many.
ROUGH, STRETCHES = 4, 40
#: The effort that one look at 480 tasks takes, and what each stretch adds.
LOOK, EACH_STRETCH = 0.1, 0.015


def makespan_bound(problem: Problem) -> int:
    """The longest chain of tasks that wait for each other, with the calendars of those who do them."""
    return max(
        (node.fixed.end if node.fixed is not None else earliest_end(node, node.head) for node in problem.nodes),
        default=0,
    )


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
    # Within an hour or so of the truth is near enough.
    near = max(1, makespan // 1000)
    for stretches in (ROUGH, STRETCHES):
        # With more stretches, less is possible: what was enough before need not be, and is tried from below.
        above, step = makespan, 4 * near if stretches == STRETCHES else makespan
        while above - low > near and not (budget.over(share) and looks <= 0):
            if budget.late or budget.ended:
                return low
            looks -= 1
            end = min((low + above) // 2, low + step)
            if has_enough_hours(problem, end, stretches):
                above = end
            else:
                low, step = end + 1, 2 * step
            budget.spend((LOOK + EACH_STRETCH * stretches) * len(problem.nodes) / 480)
    return low


def has_enough_hours(problem: Problem, end: int, stretches: int = STRETCHES) -> bool:
    """Whether there are enough hours to be done by ``end``, as far as so many stretches tell; see ``work_bound``."""
    spare = room(problem, [node.index for node in problem.free], _fixed(problem), end)
    if spare.empty or any(node.fixed is not None and node.fixed.end > end for node in problem.nodes):
        return False
    if crowded(problem, spare):  # settled sooner than by the program below
        return False
    edges = sorted({end * k // stretches for k in range(stretches + 1)})
    solver = pywraplp.Solver.CreateSolver("GLOP")
    hours = Hours(problem, solver, edges)
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
    return bool(solver.Solve() != pywraplp.Solver.INFEASIBLE)


class Hours:
    """What there is of each crew and lane in each stretch of time between two ``edges``."""

    def __init__(self, problem: Problem, solver: pywraplp.Solver, edges: list[int]) -> None:
        self._rows: dict[tuple[str, int, int], pywraplp.Constraint] = {}
        for crew, resource in enumerate(problem.crews):
            calendar = all_of([resource], [1])
            for k in range(len(edges) - 1):
                there = calendar.between(edges[k], edges[k + 1])
                self._rows["crew", crew, k] = solver.Constraint(-solver.infinity(), there)
        for number, held in enumerate(held_hours(problem)):
            for k in range(len(edges) - 1):
                there = lane_hours(problem.lanes[number], held, edges[k], edges[k + 1])
                self._rows["lane", number, k] = solver.Constraint(-solver.infinity(), there)

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
