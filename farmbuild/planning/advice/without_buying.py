"""Which houses of a season can be built from what lies in the yard, and what each further one takes at least."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from farmbuild.planning.advice.proof import pays
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Season
from farmbuild.planning.season.plan import plan_season

#: Told how many seasons were planned, of how many at most.
Progress = Callable[[int, int], None]
#: Whether somebody asked for what is found so far.
Ended = Callable[[], bool]
#: Seasons that are planned at most to choose the houses.
MAX_TRIES = 40


@dataclass(frozen=True)
class Further:
    """A house beyond those, and the least that has to be paid to build it with them; None: it cannot be bought."""

    house: str
    pays: Decimal | None


@dataclass(frozen=True)
class WithoutBuying:
    """``houses``: as many as can be built, of as many those needed first. ``proven``: no other choice has more."""

    houses: tuple[str, ...]
    further: tuple[Further, ...]
    proven: bool


def without_buying(
    season: Season,
    *,
    tries: int = MAX_TRIES,
    progress: Progress | None = None,
    ended: Ended = lambda: False,
) -> WithoutBuying:
    """Plan the season with nothing on offer, for fewer and fewer of its houses, until nothing is missing.

    Once ``ended`` says so, what is found is given: fewer houses may stand in it, without proof.

    Only what is there counts, not what is on its way. The same season gives the same answer.
    """
    order = sorted(season.houses, key=lambda house: (house.need_date, house.ref))
    search = _Search(season, order, tries, progress, ended)
    search.go((), 0)
    chosen = search.best
    further = []
    for n, house in enumerate(one for one in order if one not in chosen):
        search.tell()
        if search.cut_short:
            break
        further.append(Further(house.ref, _least(season, (*chosen, house))))
        if n + 1 == tries:
            break
    return WithoutBuying(tuple(house.ref for house in chosen), tuple(further), search.proven)


class _Search:
    """Every choice of houses, those needed first before the others; a choice that lacks something is not added to."""

    def __init__(self, season: Season, order: list[House], tries: int, progress: Progress | None, ended: Ended) -> None:
        lots = tuple(lot for lot in season.lots if lot.available_from is None)
        self.season = replace(season, offers=(), suppliers=(), lots=lots)
        self.order, self.tries, self.progress, self.ended = order, tries, progress, ended
        self.cut_short = False
        self.best: tuple[House, ...] = ()
        self.done = 0

    @property
    def proven(self) -> bool:
        return self.done < self.tries and not self.cut_short

    def tell(self) -> None:
        if self.progress:
            self.progress(min(self.done, self.tries), self.tries)
        self.cut_short = self.cut_short or self.ended()

    def go(self, chosen: tuple[House, ...], at: int) -> None:
        if len(chosen) > len(self.best):
            self.best = chosen
        for n in range(at, len(self.order)):
            # No choice from here on has more than what is found.
            if len(chosen) + len(self.order) - n <= len(self.best) or not self.proven:
                return
            more = (*chosen, self.order[n])
            self.done += 1
            self.tell()
            if self.cut_short:
                return
            if _nothing_missing(self.season, more):
                self.go(more, n + 1)


def _of(season: Season, houses: Iterable[House]) -> Season:
    refs = {house.ref for house in houses}
    return replace(
        season,
        houses=tuple(house for house in season.houses if house.ref in refs),
        in_house=tuple(piece for piece in season.in_house if piece.house in refs),
    )


def _nothing_missing(season: Season, houses: tuple[House, ...]) -> bool:
    return not plan_season(_of(season, houses)).unmet


def _least(season: Season, houses: tuple[House, ...]) -> Decimal | None:
    plan = plan_season(_of(season, houses))
    return None if plan.unmet else pays(plan)
