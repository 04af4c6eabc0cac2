"""Schedules of work: who does what, where and when, with proven bounds on what could be better.

What goes in and comes out is in ``inputs``; the methods live in the other modules of this package
and ``verify`` checks a schedule without them.
"""

from __future__ import annotations

from collections.abc import Sequence

from farmbuild.planning.scheduling.bounds import next_end
from farmbuild.planning.scheduling.budget import Budget, Progress
from farmbuild.planning.scheduling.inputs import Placed, Resources, Task, WorkPlan
from farmbuild.planning.scheduling.problem import compiled
from farmbuild.planning.scheduling.search import Outcome, solve
from farmbuild.planning.scheduling.validate import WorkError, check

__all__ = ["WorkError", "plan_work"]


def plan_work(
    tasks: Sequence[Task],
    resources: Resources,
    *,
    time_limit: float = 60.0,
    effort: float | None = None,
    progress: Progress | None = None,
) -> WorkPlan:
    """Plan the work of all houses: least late houses first, then shortest.

    Parameters
    ----------
    tasks, resources
        See ``inputs``. A task with a due date and no job counts as a job of its own.
    time_limit
        Seconds. The work is counted, so the same input gives the same schedule on a busy machine too; the clock only
        cuts in at the limit, and ``method`` then says so.
    effort
        Work that may be done: one is two to three seconds of an idle core. None: as much as the time limit allows.
    progress
        Called now and then with what is found so far; True as its answer ends the search, with the best so far.

    Raises
    ------
    WorkError
        The input makes no sense; ``reasons`` say what to put right.
    """
    check(tasks, resources)
    problem = compiled(tasks, resources)
    budget = Budget(time_limit, effort, progress)
    outcome = solve(problem, budget)
    # Not before: the search aims at the bound, and what it aims at decides which schedule it finds.
    outcome.bound = next_end(problem, outcome.bound)
    ended = "; ended when asked" if budget.ended else "; stopped by the clock" if budget.late else ""
    return _as_plan(outcome, outcome.method + ended)


def _as_plan(outcome: Outcome, method: str) -> WorkPlan:
    draft, bound, late_bound = outcome.draft, outcome.bound, outcome.late_bound
    problem = draft.problem
    placed = []
    for node in problem.nodes:
        option, start, end = draft.places[node.index]
        placed.append(node.fixed or Placed(node.task.ref, start, end, node.options[option].way))
    late = tuple(problem.jobs[job] for job in sorted(draft.late()))
    moved = tuple(
        place.task
        for node, place in zip(problem.nodes, placed, strict=True)
        if node.task.published is not None and node.task.published != place
    )
    return WorkPlan(
        placed=tuple(placed),
        makespan=draft.makespan,
        bound=bound,
        optimal=bound == draft.makespan and late_bound == len(late),
        late=late,
        late_bound=late_bound,
        moved=moved,
        unplaced=tuple(problem.unplaced.items()),
        broken=tuple(problem.broken),
        method=method,
    )
