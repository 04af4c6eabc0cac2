"""The first schedule: always there, found in moments."""

from __future__ import annotations

from itertools import islice, product

from farmbuild.planning.work_draft import Draft
from farmbuild.planning.work_greedy import Prices, Rank, parallel, prices, ranks, serial
from farmbuild.planning.work_problem import Problem, drop_wait, fixed_behind, settle, take_out

#: How much large crews are spared; see ``prices``.
FACTORS = (0.0, 2.0, 4.0)
#: Tasks placed in all, over all rules tried: what very large seasons can wait for.
MOST_PLACED = 40_000

Rule = tuple[Rank, Prices | None]


def first_draft(problem: Problem) -> tuple[Draft, Rule]:
    """The best of the rules of thumb, and the rule behind it.

    Waits of fixed tasks that no rule can keep are given up, and tasks that no rule finds room for are taken out.
    """
    while True:
        draft, rule = _best(problem)
        if draft.missed:
            pair = fixed_behind(problem, draft.missed[0])
            assert pair is not None, "only fixed tasks bound an end"
            drop_wait(problem, *pair)
        elif draft.failed:
            reason = "There is no room left for it before the last slot in which somebody is there."
            take_out(problem, dict.fromkeys(draft.failed, reason))
        else:
            return draft, rule
        settle(problem)


def _best(problem: Problem) -> tuple[Draft, Rule]:
    tried: list[tuple[Draft, Rule]] = []
    most = max(2, MOST_PLACED // max(1, len(problem.nodes)))
    choices = any(len(node.options) > 1 for node in problem.free)
    rules = product(FACTORS if choices else FACTORS[:1], ranks(problem), (serial, parallel))
    for factor, rank, make in islice(rules, most):
        price = prices(problem, factor) if factor else None
        tried.append((make(problem, rank, price), (rank, price)))
    return min(tried, key=lambda pair: pair[0].cost())
