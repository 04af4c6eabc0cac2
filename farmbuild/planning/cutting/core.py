"""The search itself: quick plan, pattern program and its bound, dives, and an exact last step."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from farmbuild.measure.speech import gettext_noop
from farmbuild.planning.cutting.bounds import Dual, length_bound, rounded
from farmbuild.planning.cutting.branch import branch
from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.dive import dive
from farmbuild.planning.cutting.exact import candidates, settle
from farmbuild.planning.cutting.master import LinearProgramFailed, Master, generate
from farmbuild.planning.cutting.neighbours import improve
from farmbuild.planning.cutting.numbers import WholeNumbers
from farmbuild.planning.cutting.patterns import Fillings
from farmbuild.planning.cutting.problem import Cuts, Pattern, Problem, cuts_cost, trim
from farmbuild.planning.cutting.threes import sift

#: Table cells for the last step, where a tight bound keeps the list of patterns short.
FINE_CELLS = 6_000_000

#: A gap of more cost steps than this is hardly ever closed. Under one part of the cost in so many it is left, and
#: under one in so many only half the work goes into it.
FEW_STEPS = 8
NEAR_ENOUGH = 2_000
HALF_WORK = 400

#: Numbers of sticks that are tried after the cheapest, and the share of the work for them.
MOST_NUMBERS, OTHER_STICKS = 20, 0.3


@dataclass
class Found:
    """The best plan and the best bound so far, and what each came from."""

    problem: Problem
    cuts: Cuts
    cost: int
    bound: int
    plan_by: str
    bound_by: str

    @property
    def proven(self) -> bool:
        return self.bound >= self.cost

    def _within(self, parts: int) -> bool:
        open_ = self.cost - self.bound
        return open_ > FEW_STEPS * (self.problem.cost_step or 1) and open_ * parts <= self.cost

    @property
    def near(self) -> bool:
        """So near to the bound, yet so many possible costs away from it, that a proof is out of reach."""
        return self._within(NEAR_ENOUGH)

    @property
    def most_work(self) -> float:
        """The share of the work allowed that is worth spending."""
        return 0.5 if self._within(HALF_WORK) else 1.0

    def offer(self, cuts: Cuts | None, by: str) -> bool:
        if cuts is None:
            return False
        cuts = trim(self.problem, cuts)
        cost = cuts_cost(self.problem, cuts)
        if cost >= self.cost:
            return False
        self.cuts, self.cost, self.plan_by = cuts, cost, by
        return True

    def raise_bound(self, bound: int, by: str) -> None:
        if bound > self.bound:
            self.bound, self.bound_by = bound, by


def search(problem: Problem, start: Cuts, budget: Budget, *, inner: bool = False) -> Found:
    """Improve on ``start`` until it is proven best or the budget is gone. ``inner``: of a part of another search."""
    start = trim(problem, start)
    found = Found(
        problem,
        start,
        cuts_cost(problem, start),
        length_bound(problem),
        gettext_noop("filling by size"),
        gettext_noop("the length needed"),
    )
    if found.proven:
        return found
    master = Master(problem)
    fillings = Fillings(problem)
    master.add(start)
    try:
        relaxed = generate(problem, fillings, master, stop=_meter(budget, master, fillings, 0.5), ceiling=found.cost)
    except LinearProgramFailed:
        return found
    found.raise_bound(rounded(problem, relaxed.dual.bound), gettext_noop("what each piece is worth at most"))
    # Of one kind alone rounding says as much.
    numbers = None if len(problem.bins) == 1 else WholeNumbers(problem, fillings, master, relaxed.dual)
    if numbers and not found.proven:
        _whole_sticks(problem, master, numbers, budget, found)
    if not found.proven:
        master.shed(relaxed.point, max(1500, 10 * len(problem.sizes)))
        _dives(problem, master, budget, found, share=max(0.35, budget.spent / budget.limit + 0.15), most=6)
        if not found.near:
            _exact(problem, master, relaxed.dual, budget, found, share=0.8 * found.most_work)
        elif fillings.exact:
            _exact(problem, master, relaxed.dual, budget, found, share=budget.spent / budget.limit + 0.1)
        _dives(problem, master, budget, found, share=max(0.5, budget.spent / budget.limit), most=60)
        if numbers:
            _other_sticks(problem, master, numbers, budget, found)
        if not inner:
            _neighbours(problem, relaxed.point.values, budget, found)
    return found


def _whole_sticks(problem: Problem, master: Master, numbers: WholeNumbers, budget: Budget, found: Found) -> None:
    """Raise the bound to what whole numbers of sticks cost, and look for a plan from them."""
    whole = numbers.following(budget, low=found.bound, cost=found.cost, share=budget.spent / budget.limit + 0.1)
    found.raise_bound(whole.bound, gettext_noop("whole numbers of sticks"))
    if whole.numbers is not None:
        _from_just(whole.numbers, problem, master, budget, found, most=6)


def _other_sticks(problem: Problem, master: Master, numbers: WholeNumbers, budget: Budget, found: Found) -> None:
    """Plans from the cheapest numbers of sticks, while such numbers cost less than the plan at hand."""
    share = budget.spent / budget.limit + OTHER_STICKS
    # More patterns are known by now.
    numbers.begin_anew()
    for _ in range(MOST_NUMBERS):
        if found.proven or budget.over(share):
            return
        whole = numbers.following(budget, low=found.bound, cost=found.cost, share=share)
        if whole.numbers is None:
            return
        _from_just(whole.numbers, problem, master, budget, found, most=3)


def _from_just(
    numbers: Sequence[int], problem: Problem, master: Master, budget: Budget, found: Found, *, most: int
) -> None:
    """A plan from just these sticks, which is the best there is where they are the cheapest."""
    if found.proven:
        return
    bins = (replace(held, quantity=n) for held, n in zip(problem.bins, numbers, strict=True))
    given = replace(problem, bins=tuple(bins))
    own = Master(given)
    own.add(p for p in master.patterns if given.bins[p.bin].quantity)
    _dives(given, own, budget, found, share=budget.spent / budget.limit + 0.1, most=most, just=True)


def _neighbours(problem: Problem, values: Sequence[float], budget: Budget, found: Found) -> None:
    """With what is left of the budget, parts of the plan are planned anew."""
    if found.proven:
        return

    def plan(part: Problem, cuts: Cuts, own: Budget) -> Cuts:
        return search(part, cuts, own, inner=True).cuts

    def done(cuts: Cuts, cost: int) -> bool:
        at = replace(found, cuts=cuts, cost=cost)
        return at.proven or at.near

    better = improve(problem, found.cuts, values, budget, plan=plan, done=done)
    found.offer(better, gettext_noop("planning parts anew"))


def _exact(problem: Problem, master: Master, dual: Dual, budget: Budget, found: Found, *, share: float) -> None:
    """Tighten the dual as far as it goes on a fine table, list what a better plan could use, and search that."""
    if found.proven or budget.over(share):
        return
    fine = Fillings(problem, cells=FINE_CELLS)
    master.restrict(problem.demand, [b.quantity for b in problem.bins])
    spend = _meter(budget, master, fine, share)
    try:
        dual = generate(problem, fine, master, stop=spend, ceiling=found.cost, best=dual, finish=True).dual
    except LinearProgramFailed:
        return
    found.raise_bound(rounded(problem, dual.bound), gettext_noop("what each piece is worth at most"))
    if found.proven or budget.over(share):
        return
    listed = candidates(fine, dual, found.cost - (problem.cost_step or 1))
    spend()
    by = (
        gettext_noop("searching all patterns that could do better")
        if listed.whole
        else gettext_noop("searching the best patterns")
    )

    def search_list(so_far: float) -> bool:
        """Whether there is nothing more to learn from the list."""
        settled = settle(problem, dual, listed, budget, low=found.bound, share=so_far, hint=found.cuts)
        if settled.bound is not None:
            found.raise_bound(settled.bound, by)
        found.offer(settled.cuts, by)
        return found.proven or settled.bound is not None or settled.cuts is not None

    done = budget.spent / budget.limit
    if listed.whole and found.cost - found.bound <= (problem.cost_step or 1):
        # A yes or a no to this ends it all.
        share = 1.0

    def until(part: float) -> float:
        return done + part * (share - done)

    # Where only this question is left, what goes together decides it soonest.
    if share < 1.0 and search_list(until(0.3)):
        return
    sifted = sift(problem, dual, listed, budget, share=until(0.95 if share == 1.0 else 0.8))
    listed = sifted.listed
    if sifted.settled.bound is not None:
        found.raise_bound(sifted.settled.bound, by)
    if found.offer(sifted.settled.cuts, by) or sifted.settled.bound is not None:
        return
    if found.offer(
        branch(problem, dual, listed, budget, share=until(0.9)),
        gettext_noop("trying the best patterns against each other"),
    ):
        return
    if listed.whole and not budget.over(share):
        search_list(share)


def _meter(budget: Budget, master: Master, fillings: Fillings, share: float) -> Callable[[], bool]:
    """Books the work of both since the last call; whether it is time to stop."""
    before = master.work + fillings.work

    def stop() -> bool:
        nonlocal before
        work = master.work + fillings.work
        budget.spend(work - before, "working out the least possible cost")
        before = work
        return budget.over(share)

    return stop


def _dives(
    problem: Problem, master: Master, budget: Budget, found: Found, *, share: float, most: int, just: bool = False
) -> None:
    avoid: set[Pattern] = set()
    for _ in range(most):
        if found.proven or (found.near and not just) or budget.over(share if just else min(share, found.most_work)):
            return
        dived = dive(
            problem, master, budget, aim=found.bound, target=found.cost - (problem.cost_step or 1), avoid=avoid
        )
        found.offer(dived.cuts, gettext_noop("taking the best patterns first"))
        fresh = [p for p in dived.chosen[:3] if p not in avoid]
        if not fresh:
            return
        avoid.update(fresh)
