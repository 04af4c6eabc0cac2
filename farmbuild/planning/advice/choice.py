"""The best choice among houses, where only whole plans can say what goes together: limits and refusals narrow it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from farmbuild.planning.advice.limits import Limit
from farmbuild.planning.solver import plain_solver

Chosen = frozenset[int]
#: Of one choice by the limits, as the solver counts its own work.
EFFORT = 5.0


@dataclass(frozen=True)
class Answer:
    """Whether a choice goes together; ``proven``: so that a "no" is sure."""

    fits: bool
    proven: bool = True


@dataclass(frozen=True)
class Choice:
    """``chosen``: places in the line. ``proven``: no other choice that fits is worth more."""

    chosen: tuple[int, ...]
    proven: bool


class OutOfTries(Exception):
    """Whoever answers gives up: the best so far is taken."""


def best_choice(
    worth: Sequence[int],
    limits: Iterable[Limit],
    names: Sequence[str],
    kinds: Sequence[Hashable],
    asked: Sequence[Callable[[Chosen], Answer]],
) -> Choice:
    """The choice of most ``worth`` that everybody ``asked`` says fits.

    Of what does not fit, no more fits either; of what fits, nothing less does not. Each refusal is made as small as
    it can be and then shuts out every choice with as many of the same ``kinds``: houses of one kind are the same to
    all who are asked, and of them the first are taken. ``asked`` may raise OutOfTries.
    """
    search = _Search(worth, list(limits), names, kinds, asked)
    try:
        proven = search.run()
    except OutOfTries:
        proven = False
    return Choice(tuple(sorted(search.best)), proven)


class _Search:
    def __init__(
        self,
        worth: Sequence[int],
        limits: list[Limit],
        names: Sequence[str],
        kinds: Sequence[Hashable],
        asked: Sequence[Callable[[Chosen], Answer]],
    ) -> None:
        self.worth, self.asked = worth, asked
        self.by_kind: dict[Hashable, list[int]] = {}
        for n, kind in enumerate(kinds):
            self.by_kind.setdefault(kind, []).append(n)
        self.kinds = kinds
        self.best: Chosen = frozenset()
        self.sure = True
        self.model = cp_model.CpModel()
        self.takes = [self.model.new_bool_var("") for _ in worth]
        for limit in limits:
            rows = [(limit.takes.get(name, 0), var) for name, var in zip(names, self.takes, strict=True)]
            if any(n for n, _ in rows):
                self.model.add(sum(n * var for n, var in rows if n) <= limit.there)
        for places in self.by_kind.values():
            for first, second in pairwise(places):
                self.model.add_implication(self.takes[second], self.takes[first])
        self.model.maximize(sum(n * var for n, var in zip(worth, self.takes, strict=True)))

    def run(self) -> bool:
        while True:
            wanted, exact = self._wanted()
            self.sure = self.sure and exact
            if self._worth(wanted) <= self._worth(self.best):
                return self.sure
            if self._refused_by(wanted) is None:
                self.best = wanted
                return self.sure
            self._grow(wanted)

    def _wanted(self) -> tuple[Chosen, bool]:
        """The most that limits and refusals leave, and whether that is sure."""
        solver = plain_solver()
        solver.parameters.max_deterministic_time = EFFORT
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return frozenset(), status == cp_model.INFEASIBLE
        chosen = frozenset(n for n, var in enumerate(self.takes) if solver.value(var))
        return chosen, status == cp_model.OPTIMAL

    def _grow(self, wanted: Chosen) -> None:
        """Build it up house by house; whatever one too many is refused with, no later choice has."""
        grown: Chosen = frozenset()
        for n in sorted(wanted):
            who = self._refused_by(grown | {n})
            if who is None:
                grown |= {n}
                if self._worth(grown) > self._worth(self.best):
                    self.best = grown
            else:
                self._refuse(self._smallest(grown, n, who))

    def _smallest(self, grown: Chosen, n: int, who: Callable[[Chosen], Answer]) -> Chosen:
        """Of what is refused, what is refused by itself; the later houses are left out first."""
        needed = grown | {n}
        for other in sorted(grown, reverse=True):
            if not who(needed - {other}).fits:
                needed -= {other}
        self.sure = self.sure and who(needed).proven
        return needed

    def _refuse(self, together: Chosen) -> None:
        counts = Counter(self.kinds[n] for n in together)
        last = [self.takes[self.by_kind[kind][many - 1]] for kind, many in counts.items()]
        self.model.add_bool_or([~var for var in last])

    def _refused_by(self, chosen: Chosen) -> Callable[[Chosen], Answer] | None:
        return next((who for who in self.asked if not who(chosen).fits), None)

    def _worth(self, chosen: Chosen) -> int:
        return sum(self.worth[n] for n in chosen)
