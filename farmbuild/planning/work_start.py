"""The first schedule: always there, found in moments."""

from __future__ import annotations

from farmbuild.planning.work_draft import Draft
from farmbuild.planning.work_greedy import Rank, parallel, ranks, serial
from farmbuild.planning.work_problem import Problem, drop_wait, fixed_behind, settle, take_out


def first_draft(problem: Problem) -> tuple[Draft, Rank]:
    """The best of the rules of thumb, and the rank behind it.

    Waits of fixed tasks that no rule can keep are given up, and tasks that no rule finds room for are taken out.
    """
    while True:
        tried = [(make(problem, rank), rank) for rank in ranks(problem) for make in (serial, parallel)]
        draft, rank = min(tried, key=lambda pair: pair[0].cost())
        if draft.missed:
            pair = fixed_behind(problem, draft.missed[0])
            assert pair is not None, "only fixed tasks bound an end"
            drop_wait(problem, *pair)
        elif draft.failed:
            reason = "There is no room left for it before the last slot in which somebody is there."
            take_out(problem, dict.fromkeys(draft.failed[:1], reason))
        else:
            return draft, rank
        settle(problem)
