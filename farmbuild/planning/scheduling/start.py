"""The first schedule: always there, found in moments."""

from __future__ import annotations

from collections.abc import Callable
from itertools import islice, product

from farmbuild.planning.scheduling.bounds import late_bound
from farmbuild.planning.scheduling.draft import Draft
from farmbuild.planning.scheduling.greedy import Prices, Rank, Tell, parallel, prices, ranks, serial
from farmbuild.planning.scheduling.problem import Problem, drop_wait, fixed_behind, leave_out, propagate
from farmbuild.planning.scheduling.reasons import Hindrance, Reason

#: How much large crews are spared; see ``prices``.
FACTORS = (0.0, 2.0, 4.0)
#: Tasks placed in all, over all rules tried: what very large seasons can wait for.
MAX_PLACED = 40_000
#: How many of the best are tried again with their late jobs put off.
WITH_LATE = 4

Rule = tuple[Rank, Prices | None]
Make = Callable[[Problem, Rank, Prices | None, Tell | None], Draft]


def first_draft(problem: Problem, tell: Tell | None = None) -> tuple[Draft, Rule]:
    """The best of the rules of thumb, and the rule behind it. ``tell``: of the first draft, as it grows.

    Waits of fixed tasks that no rule can keep are given up, and tasks that no rule finds room for are taken out.
    """
    while True:
        draft, rule = _best(problem, tell)
        if draft.missed:
            pair = fixed_behind(problem, draft.missed[0])
            assert pair is not None, "only fixed tasks bound an end"
            drop_wait(problem, *pair)
        elif draft.failed:
            leave_out(problem, dict.fromkeys(draft.failed, Reason(Hindrance.NO_ROOM)))
        else:
            return draft, rule
        propagate(problem)


def _best(problem: Problem, tell: Tell | None) -> tuple[Draft, Rule]:
    tried: list[tuple[Draft, Rule, Make]] = []
    choices = any(len(node.options) > 1 for node in problem.free)
    most = max(2, MAX_PLACED // max(1, len(problem.nodes)))
    rules = product(FACTORS if choices else FACTORS[:1], ranks(problem), (serial, parallel))
    for factor, rank, make in islice(rules, most):
        price = prices(problem, factor) if factor else None
        tried.append((make(problem, rank, price, None if tried else tell), (rank, price), make))
    tried.sort(key=lambda one: one[0].cost())
    if len(tried[0][0].late()) > late_bound(problem):
        tried[:WITH_LATE] = [_put_off(*one) for one in tried[:WITH_LATE]]
    draft, rule, _ = min(tried, key=lambda one: one[0].cost())
    return draft, rule


def _put_off(draft: Draft, rule: Rule, make: Make) -> tuple[Draft, Rule, Make]:
    """Jobs that are late anyway go last, so that they are in nobody's way."""
    best = draft, rule, make
    rank, price = rule
    span = max(rank) - min(rank) + 1
    given_up: set[int] = set()
    while late := draft.late() - given_up:
        # The later half of them: the others may be in time once these are out of their way.
        by_lateness = sorted(late, key=lambda job: (-_lateness(draft, job), job))
        given_up.update(by_lateness[: (len(by_lateness) + 1) // 2])
        put_off = [value + span * (node.job in given_up) for value, node in zip(rank, draft.problem.nodes, strict=True)]
        draft = make(draft.problem, put_off, price, None)
        if draft.cost() < best[0].cost():
            best = draft, (put_off, price), make
    return best


def _lateness(draft: Draft, job: int) -> int:
    nodes = draft.problem.nodes
    return max(
        draft.places[node.index][2] - node.task.due
        for node in nodes
        if node.job == job and node.task.due is not None and node.index in draft.places
    )
