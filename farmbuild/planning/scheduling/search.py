"""The search: rules of thumb, then the whole schedule as one model where it is small, else parts of it in turn.

Where only waits and shared resources count, lists of tasks are bred first.
"""

from __future__ import annotations

from dataclasses import dataclass

from farmbuild.planning.scheduling.bounds import late_bound, makespan_bound, work_bound
from farmbuild.planning.scheduling.budget import TRY, Budget
from farmbuild.planning.scheduling.draft import Draft
from farmbuild.planning.scheduling.late_bound import late_work_bound
from farmbuild.planning.scheduling.lists import breed
from farmbuild.planning.scheduling.parts import improve
from farmbuild.planning.scheduling.plain import Plain, plain
from farmbuild.planning.scheduling.problem import Problem
from farmbuild.planning.scheduling.repair import aim_of, improve_repaired, repaired
from farmbuild.planning.scheduling.start import first_draft
from farmbuild.planning.scheduling.whole import Whole

#: What the bound of a repaired schedule may always take; it comes last, when the repair has spent the budget.
LOOKS = 12
#: Effort of breeding lists before the whole model of more tasks than so many is tried; of fewer it needs none.
MOMENT, FEW = 0.004, 40
#: The share of the budget by which the whole model is given up at first, and the breeding after that where the bound
#: is near: no more than so much below.
FIRST_TRY, BRED, NEAR = 0.15, 0.6, 0.15


@dataclass
class Outcome:
    draft: Draft
    bound: int
    late_bound: int
    method: str


def solve(problem: Problem, budget: Budget) -> Outcome:
    first, rule = first_draft(problem, budget.placed)
    budget.spend(36 * TRY * sum(len(node.options) for node in problem.free))
    budget.tell(first)
    outcome = Outcome(first, makespan_bound(problem), late_bound(problem), "rules of thumb")
    if any(node.task.published is not None and node.fixed is None for node in problem.nodes):
        return _again(problem, outcome, budget)
    if _met(outcome) or not problem.free:
        return outcome
    whole = Whole(problem)
    numbers = plain(problem)
    if numbers is not None:
        if whole.small:
            _bred(numbers, whole, outcome, budget)
            return outcome
        breed(outcome.draft, numbers, budget, 0.5 * budget.limit, outcome.bound)
    if whole.small:
        whole.solve(outcome, budget, 0.5)
        if not _met(outcome) and not budget.over():
            improve(outcome.draft, rule, budget, 0.75, outcome.bound)
            if not budget.ended:
                whole.solve(outcome, budget, 1.0)
        outcome.method = "whole model" if _met(outcome) else "whole model and parts of it"
        return outcome
    _look_at_late(problem, outcome)
    outcome.bound = max(outcome.bound, work_bound(problem, outcome.draft.makespan, budget))
    budget.no_sooner = outcome.bound
    budget.tell(outcome.draft)
    improve(outcome.draft, rule, budget, 1.0, outcome.bound)
    outcome.method = (
        "rules of thumb, improved part by part"
        if numbers is None
        else "lists of tasks, bred, then improved part by part"
    )
    return outcome


def _bred(numbers: Plain, whole: Whole, outcome: Outcome, budget: Budget) -> None:
    """Lists of many tasks are bred for a moment, the whole model has a try, and then more are bred.

    Where the bound is far that goes on to the end; else the whole model is asked again whether anything ends sooner.
    """
    outcome.method = "lists of tasks, bred"
    if len(outcome.draft.problem.free) > FEW:
        breed(outcome.draft, numbers, budget, budget.spent + min(MOMENT, 0.1 * budget.limit), outcome.bound)
        if _met(outcome):
            return
    outcome.method = "lists of tasks, bred, and the whole model"
    whole.solve(outcome, budget, FIRST_TRY)
    near = outcome.draft.makespan <= (1 + NEAR) * outcome.bound
    breed(outcome.draft, numbers, budget, (BRED if near else 1.0) * budget.limit, outcome.bound)
    if near:
        whole.none_sooner(outcome, budget, 1.0)


def _again(problem: Problem, outcome: Outcome, budget: Budget) -> Outcome:
    """People follow a schedule already: as little of it is moved as can be."""
    aim = aim_of(problem, outcome.bound)
    fresh = outcome.draft
    drafts = [draft for draft in repaired(problem, aim) if not draft.failed and not draft.missed] or [fresh]
    for number, draft in enumerate(drafts, 1):
        budget.tell(draft)
        improve_repaired(draft, aim, outcome.late_bound, budget, number / len(drafts))
        if draft is min(drafts, key=aim.cost):
            break
    outcome.draft = draft = min(drafts, key=aim.cost)
    if len(fresh.late()) < len(draft.late()):
        outcome.draft = draft = fresh
    if draft.makespan > outcome.bound and not Whole(problem).small:
        outcome.bound = max(outcome.bound, work_bound(problem, draft.makespan, budget, share=1.0, looks=LOOKS))
    outcome.method = "published schedule, repaired"
    return outcome


def _look_at_late(problem: Problem, outcome: Outcome) -> None:
    if len(outcome.draft.late()) > outcome.late_bound:
        outcome.late_bound = max(outcome.late_bound, late_work_bound(problem))


def _met(outcome: Outcome) -> bool:
    return len(outcome.draft.late()) == outcome.late_bound and outcome.draft.makespan == outcome.bound
