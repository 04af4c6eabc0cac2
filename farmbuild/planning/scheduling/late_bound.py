"""How many houses have to be late, whatever the schedule."""

from __future__ import annotations

import math

from ortools.linear_solver import pywraplp

from farmbuild.planning.scheduling.bounds import Hours
from farmbuild.planning.scheduling.calendar import FOREVER
from farmbuild.planning.scheduling.problem import Node, Problem, latest_start

#: Stretches of time that the bound tells apart.
STRETCHES = 16
#: What the solver may be off by.
SLIP = 1e-4


def late_work_bound(problem: Problem) -> int:
    """The fewest late jobs for which there are enough hours.

    The work of a job that is in time is spread over its tasks' ways and over stretches of time at will, each task
    after what it waits for and in time for what waits for it; a job may be late in part, and then needs as much
    less. Work of late jobs is left out altogether, so no schedule has fewer late jobs than this says, rounded up.
    """
    dues = [node.task.due for node in problem.nodes if node.task.due is not None]
    if not dues:
        return 0
    end = max(dues)
    edges = sorted({end * k // STRETCHES for k in range(STRETCHES + 1)})
    solver = pywraplp.Solver.CreateSolver("GLOP")
    hours = Hours(problem, solver, edges)
    late = [solver.NumVar(0, 1, "") for _ in problem.jobs]
    last = _in_time(problem)
    for node in problem.nodes:
        if node.job < 0:
            continue
        if node.fixed is not None:
            if node.fixed.end > last[node.index]:
                late[node.job].SetLb(1)
        elif all(option.duration for option in node.options):
            _spread(node, last[node.index], edges, hours, solver, late[node.job])
    solver.Minimize(solver.Sum(late))
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return 0
    fewest: float = solver.Objective().Value()
    return max(0, math.ceil(fewest - SLIP))


def _spread(
    node: Node, last: int, edges: list[int], hours: Hours, solver: pywraplp.Solver, late: pywraplp.Variable
) -> None:
    whole = solver.Constraint(1, solver.infinity())
    whole.SetCoefficient(late, 1)
    for option in node.options:
        for k in range(len(edges) - 1):
            slots = option.calendar.between(max(node.head, edges[k]), min(last, edges[k + 1]))
            if slots > 0:
                share = solver.NumVar(0, min(1.0, slots / option.duration), "")
                whole.SetCoefficient(share, 1)
                hours.ask_of(option, k, share)


def _in_time(problem: Problem) -> list[int]:
    """For each node the last end with which its own job can be in time; what other jobs need of it does not count."""
    last = [FOREVER] * len(problem.nodes)
    for k in reversed(problem.order):
        node = problem.nodes[k]
        if node.job < 0:
            continue
        assert node.task.due is not None
        last[k] = min(node.latest if node.fixed is None else FOREVER, node.task.due)
        for j, lag in node.following:
            after = problem.nodes[j]
            if after.job == node.job and after.fixed is None:
                last[k] = min(last[k], latest_start(after, last[j]) - lag)
    return last
