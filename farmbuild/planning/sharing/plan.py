"""Who gets which bender when several ask: an exact allocation, with the reason for each request in words.

What is sought, each only among what is best for all before it, so that the answer is one and the same every time:

1. As many requests met as can be.
2. By need date: requests stand in turn (``in_turn``): the day they are needed back by, then the member who had a
   bender least lately (never had one comes first), then who had them fewer days, then who asked first. The first
   request of the turn is met if it can be, then the second, and so on.
3. Early: in the same turn, each has its first day as early as can be, then the bender that stands first in its list.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ortools.sat.python import cp_model

from farmbuild.planning.sharing.inputs import Request, Taken, Turn, in_turn
from farmbuild.planning.sharing.words import SharingFacts, given_words, refused_words
from farmbuild.planning.solver import plain_solver

__all__ = ["Given", "NotGiven", "Proposal", "Request", "Taken", "Turn", "in_turn", "places", "share"]

#: Deterministic seconds of one question to the solver; a season of requests takes a hundredth of one.
EFFORT = 10.0


@dataclass(frozen=True)
class Given:
    request: Request
    bender: str
    first: date
    last: date
    reason: str


@dataclass(frozen=True)
class NotGiven:
    """``bender`` and ``first``: where and when the days could be had at the earliest, too late for the request."""

    request: Request
    reason: str
    bender: str | None = None
    first: date | None = None


@dataclass(frozen=True)
class Proposal:
    """Both in turn. ``exact``: proven to be what is sought; else the solver ran out of its effort on the way."""

    given: tuple[Given, ...]
    not_given: tuple[NotGiven, ...]
    exact: bool = True


_Place = tuple[date, str]
_Spans = Mapping[str, Sequence[Taken]]


def places(request: Request, taken: _Spans, today: date) -> Iterator[_Place]:
    """First day and bender of every way to meet it, in the order of rule 3."""
    day = max(request.earliest, today)
    while day + timedelta(days=request.days - 1) <= request.need_by:
        for bender in request.benders:
            if _free(taken.get(bender, ()), day, day + timedelta(days=request.days - 1)):
                yield day, bender
        day += timedelta(days=1)


def share(
    requests: Sequence[Request],
    benders: Mapping[str, str],
    taken: Sequence[Taken],
    today: date,
    turns: Mapping[str, Turn],
) -> Proposal:
    """``benders``: name by ref, of all that are lent; ``turns`` by member, none for one who never had any.

    Exact and the same every time; see the head of this file for what is sought.
    """
    order = in_turn(requests, turns)
    spans = {bender: [row for row in taken if row.bender == bender] for bender in benders}
    choices = [[place for place in places(row, spans, today) if place[1] in benders] for row in order]
    chosen, exact = _Search(order, choices).best()
    booked = {bender: list(rows) for bender, rows in spans.items()}
    for row, place in zip(order, chosen, strict=True):
        if place:
            booked[place[1]].append(Taken(place[1], place[0], _last(row, place[0]), row.member))
    given: list[Given] = []
    not_given: list[NotGiven] = []
    facts = SharingFacts(order=order, benders=benders, turns=turns, today=today, spans=booked, taken=spans)
    for at, (row, place) in enumerate(zip(order, chosen, strict=True)):
        if place:
            words = given_words(facts, at, place[0], place[1])
            given.append(Given(row, place[1], place[0], _last(row, place[0]), words))
        else:
            later = _later(row, booked, today)
            first, bender = later or (None, None)
            words = refused_words(
                facts, at, later, met=[place is not None for place in chosen], alone=bool(choices[at])
            )
            not_given.append(NotGiven(row, words, bender, first))
    return Proposal(tuple(given), tuple(not_given), exact)


def _last(request: Request, first: date) -> date:
    return first + timedelta(days=request.days - 1)


def _free(rows: Sequence[Taken], first: date, last: date) -> bool:
    return all(row.last < first or row.first > last for row in rows)


def _later(request: Request, booked: _Spans, today: date) -> _Place | None:
    """The earliest it could be had with everything else as proposed, whenever it is needed back."""
    start = max(request.earliest, today)
    found: list[tuple[date, int, str]] = []
    for at, bender in enumerate(request.benders):
        if bender not in booked:
            continue
        starts = [start, *(row.last + timedelta(days=1) for row in booked[bender] if row.last >= start)]
        free = [day for day in starts if _free(booked[bender], day, _last(request, day))]
        found.append((min(free), at, bender))
    return min(found)[::2] if found else None


class _Search:
    """One yes or no for each request and place; of those that hold a bender on one day, one yes at most."""

    def __init__(self, order: Sequence[Request], choices: Sequence[Sequence[_Place]]) -> None:
        self.order, self.choices = order, choices
        self.exact = True
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
        #: Way chosen for each request, None where it is not met.
        self.chosen: list[int | None] = [None for _ in order]

    def best(self) -> tuple[list[_Place | None], bool]:
        if not any(self.choices):
            return [None for _ in self.order], True
        self.model.maximize(sum(self.met))
        self._solve()
        self.model.add(sum(self.met) == sum(way is not None for way in self.chosen))
        for row, met in enumerate(self.met):
            if self.chosen[row] is None and self.choices[row]:
                self.model.maximize(met)
                self._solve()
            self.model.add(met == int(self.chosen[row] is not None))
        for row, ways in enumerate(self.at):
            if self.chosen[row] is None:
                continue
            if self.chosen[row]:
                self.model.minimize(sum(way * variable for way, variable in enumerate(ways)))
                self._solve()
            self.model.add(ways[self.chosen[row] or 0] == 1)
        places = [None if way is None else self.choices[row][way] for row, way in enumerate(self.chosen)]
        return places, self.exact

    def _solve(self) -> None:
        """What is chosen becomes the best found; it stays as it was where the effort was too little."""
        solver = plain_solver()
        solver.parameters.max_deterministic_time = EFFORT
        self.model.clear_hints()
        for ways, chosen in zip(self.at, self.chosen, strict=True):
            for way, variable in enumerate(ways):
                self.model.add_hint(variable, int(way == chosen))
        status = solver.solve(self.model)
        if status != cp_model.OPTIMAL:
            self.exact = False
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.chosen = [
                next((way for way, variable in enumerate(ways) if solver.boolean_value(variable)), None)
                for ways in self.at
            ]
