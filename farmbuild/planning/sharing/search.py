"""The search for the best sharing, rule after rule, each with its proof."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from ortools.sat.python import cp_model

from farmbuild.planning.sharing.inputs import Request
from farmbuild.planning.sharing.levels import Claim, sums_of
from farmbuild.planning.solver import plain_solver

#: Deterministic seconds for all questions of a sharing; a season of requests takes a few hundredths of one.
EFFORT = 6.0

Place = tuple[date, str]


@dataclass(frozen=True)
class Bound:
    """Where the effort ran out: ``members`` claims are refused something and left with ``level`` days per share or
    fewer, and it is proven only that no sharing has fewer than ``proven`` of them."""

    level: Fraction
    members: int
    proven: int


class Search:
    """One yes or no for each request and place; of those that hold a bender on one day, one yes at most.

    ``room``: days that a member may be given still, by member; who is not in it may be given any.
    """

    def __init__(
        self,
        order: Sequence[Request],
        choices: Sequence[Sequence[Place]],
        claims: Sequence[Claim],
        room: Mapping[str, int],
    ) -> None:
        self.order, self.choices, self.claims, self.room = order, choices, claims, room
        self.exact = True
        self.bound: Bound | None = None
        self.left = EFFORT
        self.model = model = cp_model.CpModel()
        self.at: list[list[cp_model.IntVar]] = []
        self.met: list[cp_model.IntVar] = []
        # A row for each bender and day: their linear relaxation is far tighter than that of intervals.
        held: dict[tuple[str, date], list[cp_model.IntVar]] = {}
        for row, (request, ways) in enumerate(zip(order, choices, strict=True)):
            here = [model.new_bool_var(f"{row}-{way}") for way in range(len(ways))]
            met = model.new_bool_var(f"met-{row}")
            model.add(sum(here) == met)
            for (first, bender), way in zip(ways, here, strict=True):
                for more in range(request.days):
                    held.setdefault((bender, first + timedelta(days=more)), []).append(way)
            self.at.append(here)
            self.met.append(met)
        for together in held.values():
            model.add_at_most_one(together)
        for member, most in room.items():
            rows = [row for row, request in enumerate(order) if request.member == member]
            model.add(self._days(rows) <= most)
        #: Totals that each claim could come to, rising.
        self.totals = [
            sums_of((order[row].days for row in claim.rows if choices[row]), room.get(claim.member)) for claim in claims
        ]
        #: Of each claim what could be met if nobody else asked, and whether all of it is.
        self.wished = [[row for row in claim.rows if choices[row]] for claim in claims]
        self.whole = [model.new_bool_var("") for _ in claims]
        for wished, whole in zip(self.wished, self.whole, strict=True):
            for row in wished:
                model.add_implication(whole, self.met[row])
        #: Way chosen for each request, None where it is not met.
        self.chosen: list[int | None] = [None for _ in order]

    def best(self) -> list[Place | None]:
        if any(self.choices):
            self._start()
            self._least_regret()
            self._in_turn()
            self._early()
        return [None if way is None else self.choices[row][way] for row, way in enumerate(self.chosen)]

    def _start(self) -> None:
        """A first sharing to be bettered: whoever has the fewest days so far gets its next wish where it fits first."""
        held: set[tuple[str, date]] = set()
        left = [list(wished) for wished in self.wished]
        had = [0 for _ in self.claims]
        room = dict(self.room)
        while any(left):
            at = min((at for at, rows in enumerate(left) if rows), key=lambda at: (self.claims[at].level(had[at]), at))
            row = left[at].pop(0)
            member, wanted = self.claims[at].member, self.order[row].days
            if wanted > room.get(member, wanted):
                continue
            for way, (first, bender) in enumerate(self.choices[row]):
                days = {(bender, first + timedelta(days=more)) for more in range(wanted)}
                if not days & held:
                    held |= days
                    had[at] += wanted
                    if member in room:
                        room[member] -= wanted
                    self.chosen[row] = way
                    break

    def _least_regret(self) -> None:
        """Of all levels from the lowest: no more claims refused something at or below it than must be."""
        levels = sorted(
            {claim.level(total) for claim, totals in zip(self.claims, self.totals, strict=True) for total in totals}
        )
        fixed = 0
        while fixed < len(now := self._refused()):
            level = now[fixed]
            if below := levels.index(level):
                # Nobody stands between; nobody may fall there later.
                self.model.add(self._at_or_below(levels[below - 1]) <= fixed)
            count = bisect_right(now, level)
            low = self._at_or_below(level)
            if count > max(fixed, self._always(level)):
                self.model.minimize(low)
                proven = self._solve()
                count = bisect_right(self._refused(), level)
                if proven < count and self.bound is None:
                    self.bound = Bound(level, count, proven)
            self.model.add(low <= count)
            fixed = count
        self.model.add(self._at_or_below(levels[-1]) <= fixed)

    def _in_turn(self) -> None:
        for row, met in enumerate(self.met):
            if self.chosen[row] is None and self.choices[row]:
                self.model.maximize(met)
                self._solve()
            self.model.add(met == int(self.chosen[row] is not None))

    def _early(self) -> None:
        for row, ways in enumerate(self.at):
            if self.chosen[row] is None:
                continue
            if self.chosen[row]:
                self.model.minimize(sum(way * variable for way, variable in enumerate(ways)))
                self._solve()
            self.model.add(ways[self.chosen[row] or 0] == 1)

    def _days(self, rows: Sequence[int]) -> cp_model.LinearExprT:
        return sum(self.order[row].days * self.met[row] for row in rows)

    def _refused(self) -> list[Fraction]:
        """Levels of the claims that are refused something as chosen now, rising."""
        found = []
        for claim, wished in zip(self.claims, self.wished, strict=True):
            given = [row for row in wished if self.chosen[row] is not None]
            if len(given) < len(wished):
                found.append(claim.level(sum(self.order[row].days for row in given)))
        return sorted(found)

    def _always(self, level: Fraction) -> int:
        """How many claims are refused something at or below ``level`` whatever is chosen, by their room alone."""
        return sum(
            totals[-1] < sum(self.order[row].days for row in wished) and claim.level(totals[-1]) <= level
            for claim, totals, wished in zip(self.claims, self.totals, self.wished, strict=True)
        )

    def _at_or_below(self, level: Fraction) -> cp_model.LinearExprT:
        """How many claims are refused something and left with ``level`` days per share or fewer."""
        found = []
        for claim, totals, wished, whole in zip(self.claims, self.totals, self.wished, self.whole, strict=True):
            past = next((total for total in totals if claim.level(total) > level), None)
            if not wished or past == 0:
                continue
            low = self.model.new_bool_var("")
            if past is None:
                self.model.add_at_least_one(low, whole)
            else:
                self.model.add(self._days(wished) + past * low + past * whole >= past)
            found.append(low)
        return cp_model.LinearExpr.sum(found)

    def _solve(self) -> int:
        """What is chosen becomes the best found, and stays as it was where the effort was too little. Gives the bound
        of the objective that is proven."""
        if self.left <= 0:
            self.exact = False
            return 0
        solver = plain_solver()
        solver.parameters.max_deterministic_time = self.left
        # All rows of days in the linear relaxation: by it alone a full week of small wishes is proven at once.
        solver.parameters.linearization_level = 2
        # Dozens of small questions: what presolve finds is not worth its time in each.
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.symmetry_level = 0
        solver.parameters.max_presolve_iterations = 1
        self.model.clear_hints()
        for ways, chosen in zip(self.at, self.chosen, strict=True):
            for way, variable in enumerate(ways):
                self.model.add_hint(variable, int(way == chosen))
        status = solver.solve(self.model)
        self.left -= solver.response_proto.deterministic_time
        if status != cp_model.OPTIMAL:
            self.exact = False
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.chosen = [
                next((way for way, variable in enumerate(ways) if solver.boolean_value(variable)), None)
                for ways in self.at
            ]
        return max(0, round(solver.best_objective_bound)) if status != cp_model.UNKNOWN else 0
