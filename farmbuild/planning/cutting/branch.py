"""Branch and bound over listed patterns, for plans alone: what it finds is checked, what it rules out is not used.

It finds plans where the exact search of ``exact`` wanders; its arithmetic is floating, so it proves nothing here.
"""

from __future__ import annotations

from ortools.linear_solver import pywraplp

from farmbuild.planning.cutting.bounds import Dual
from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.exact import Listed
from farmbuild.planning.cutting.problem import Cuts, Problem, is_plan

#: Patterns and cost that it is given at most.
BRANCHED = 6_000
DEAREST = 1 << 40
#: Counted work of one pattern at the root and at every later node.
ROOT_WORK = 250_000
NODE_WORK = 12_000


def branch(problem: Problem, dual: Dual, listed: Listed, budget: Budget, *, share: float) -> Cuts | None:
    """A plan within the target from the listed patterns, the cheapest met within the work that is left."""
    size = len(listed.patterns)
    room = share * budget.limit - budget.spent - ROOT_WORK * size
    if not size or size > BRANCHED or listed.target > DEAREST or room <= 0:
        return None
    nodes = int(room / (NODE_WORK * size)) + 1
    solver = pywraplp.Solver.CreateSolver("SCIP")
    solver.SetSolverSpecificParametersAsString(
        f"limits/nodes = {nodes}\nseparating/maxroundsroot = 5\nseparating/maxrounds = 0"
    )
    infinity = solver.infinity()
    # A piece too many loses its value; where that is more than may be lost, none is.
    cover = [
        solver.Constraint(d, d if listed.whole and value > listed.slack else infinity)
        for d, value in zip(problem.demand, dual.values, strict=True)
    ]
    stock = [None if b.quantity is None else solver.Constraint(0, b.quantity) for b in problem.bins]
    cost = solver.Constraint(0, listed.target)
    objective = solver.Objective()
    objective.SetMinimization()
    amounts = []
    for pattern in listed.patterns:
        amount = solver.IntVar(0, max(-(-problem.demand[i] // k) for i, k in pattern.counts), "")
        amounts.append(amount)
        for i, k in pattern.counts:
            cover[i].SetCoefficient(amount, k)
        row = stock[pattern.bin]
        if row is not None:
            row.SetCoefficient(amount, 1)
        cost.SetCoefficient(amount, problem.bins[pattern.bin].cost)
        objective.SetCoefficient(amount, problem.bins[pattern.bin].cost)
    solver.SetTimeLimit(max(1, int(1000 * budget.seconds_left)))
    status = solver.Solve()
    budget.spend(ROOT_WORK * size + NODE_WORK * size * solver.nodes(), "branching on patterns")
    # Only the clock can end it unsolved before its nodes are used up; this notes it then.
    budget.over()
    if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
        return None
    cuts = {
        pattern: times
        for pattern, amount in zip(listed.patterns, amounts, strict=True)
        if (times := round(amount.solution_value()))
    }
    return cuts if is_plan(problem, cuts) else None
