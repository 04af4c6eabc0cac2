"""Which houses of a season can be built from what lies in the yard by who is there, and what each further one takes."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from farmbuild.planning.advice.builders import Builders, CrewTime, time_limits
from farmbuild.planning.advice.choice import Answer, Chosen, OutOfTries, best_choice
from farmbuild.planning.advice.limits import stock_limits
from farmbuild.planning.advice.proof import pays
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.plan import plan_season

#: Told how many plans and schedules were made, and what is done now.
Progress = Callable[[int, str], None]
#: Whether somebody asked for what is found so far.
Ended = Callable[[], bool]
#: Seasons that are planned at most to choose the houses, and further houses that are planned with them.
MAX_TRIES = 120
MAX_FURTHER = 40
#: Of plans and schedules together, times the tries.
_MOST_QUESTIONS = 3
#: Hundredths of the currency in which houses are told apart by value.
_HUNDREDTHS = 100


class Wanted(StrEnum):
    """What makes one choice better: as many houses as can be, or those whose material is worth most."""

    DAY = "day"
    VALUE = "value"


@dataclass(frozen=True)
class Held:
    """Pieces of a lot that are held for ``houses`` together: there for a choice that has all of them, and no other."""

    lot: str
    quantity: int
    houses: frozenset[str]


@dataclass(frozen=True)
class Further:
    """A house beyond those. ``pays``: the least that has to be paid to build it with them; None: not all of it can be
    bought, or nobody can build it, as ``why`` says then. ``buys``: pieces by material and length. ``comes``: the day on
    which all of that is there, with what is on its way and serves them; None: all of it lies there. ``in_time``: crews
    and benders can build it with the others by its day."""

    house: str
    pays: Decimal | None
    buys: tuple[tuple[str, Decimal | None, int], ...] = ()
    comes: date | None = None
    in_time: bool = True
    why: str = ""


@dataclass(frozen=True)
class WithoutBuying:
    """``houses``: the best choice, those needed first before the others. ``proven``: no other choice is better.

    ``values``: by house, what its material would cost if all of it were bought, where that was asked.
    """

    houses: tuple[str, ...]
    further: tuple[Further, ...]
    proven: bool
    values: tuple[tuple[str, Decimal], ...] = ()


def without_buying(
    season: Season,
    builders: Builders | None = None,
    *,
    held: Sequence[Held] = (),
    wanted: Wanted = Wanted.DAY,
    tries: int = MAX_TRIES,
    progress: Progress | None = None,
    ended: Ended = lambda: False,
) -> WithoutBuying:
    """The best choice of houses that lack nothing when nothing is on offer, and that ``builders`` have time for.

    Best is the most houses and, of as many, those needed first (the least sum of places in that order); by value it is
    the most value, then as before. Only what is there counts, not what is on its way or belongs to others. ``held``: of
    the season's lots, which are free for all of its houses together; a house is taken to have use for what it holds.
    Once ``ended`` says so, what is found is given, without proof. The same input gives the same answer.
    """
    line = sorted(season.houses, key=lambda house: (house.need_date, house.ref))
    asking = _Asking(season, builders, held, line, tries, progress, ended)
    cannot = dict(builders.cannot) if builders else {}
    able = [house for house in line if house.ref not in cannot]
    values = dict(_values(season, asking)) if wanted is Wanted.VALUE else {}
    alone = asking.alone
    choice = best_choice(
        _worth(able, values),
        [*stock_limits(_of(alone, able, held)), *(time_limits(builders) if builders else ())],
        [house.ref for house in able],
        list(_kinds(season, builders, held, able)),
        [asking.stock(able), *([asking.crews(able)] if builders else [])],
    )
    chosen = tuple(able[n] for n in choice.chosen)
    further = [] if asking.cut_short else list(_further(asking, chosen, line, cannot))
    return WithoutBuying(
        houses=tuple(house.ref for house in chosen),
        further=tuple(further),
        proven=choice.proven and not asking.cut_short,
        values=tuple((house.ref, values[house.ref]) for house in line if house.ref in values),
    )


class _Asking:
    """Makes the plans and schedules, each once."""

    def __init__(
        self,
        season: Season,
        builders: Builders | None,
        held: Sequence[Held],
        line: Sequence[House],
        tries: int,
        progress: Progress | None,
        ended: Ended,
    ) -> None:
        lots = tuple(lot for lot in season.lots if lot.available_from is None and not lot.common)
        self.season, self.held = season, held
        self.alone = replace(season, offers=(), suppliers=(), lots=lots)
        self.crew_time = CrewTime(builders)
        self.line, self.tries, self.progress, self.ended = line, tries, progress, ended
        self.done = 0
        self.cut_short = False
        self._lacks: dict[Chosen, bool] = {}

    def count(self, doing: str) -> None:
        """Raises OutOfTries once somebody asked for what is found."""
        if self.progress:
            self.progress(self.done, doing)
        self.done += 1
        self.cut_short = self.cut_short or self.ended()
        if self.cut_short:
            raise OutOfTries

    def stock(self, able: Sequence[House]) -> Callable[[Chosen], Answer]:
        def asked(chosen: Chosen) -> Answer:
            if chosen not in self._lacks:
                if len(self._lacks) >= self.tries:
                    raise OutOfTries
                self.count(f"Planning {len(chosen)} of {len(self.line)} houses without buying")
                plan = plan_season(_of(self.alone, [able[n] for n in chosen], self.held))
                self._lacks[chosen] = bool(plan.unmet)
            return Answer(not self._lacks[chosen])

        return asked

    def crews(self, able: Sequence[House]) -> Callable[[Chosen], Answer]:
        def asked(chosen: Chosen) -> Answer:
            if self.done >= _MOST_QUESTIONS * self.tries:
                raise OutOfTries
            self.count(f"Looking for crews for {len(chosen)} houses")
            verdict = self.crew_time.fits(frozenset(able[n].ref for n in chosen))
            return Answer(verdict.fits, verdict.proven)

        return asked


def _further(
    asking: _Asking, chosen: tuple[House, ...], line: Sequence[House], cannot: dict[str, str]
) -> Iterator[Further]:
    refs = frozenset(house.ref for house in chosen)
    for house in [one for one in line if one not in chosen][:MAX_FURTHER]:
        if why := cannot.get(house.ref):
            yield Further(house.ref, None, in_time=False, why=why)
            continue
        try:
            asking.count(f"Planning {house.name} with them")
        except OutOfTries:
            return
        plan = plan_season(_of(asking.season, [*chosen, house], asking.held))
        comes = _comes(asking.season, plan)
        least = None if plan.unmet else pays(plan) + sum((one.amount for one in plan.from_common), Decimal(0))
        fits = asking.crew_time.fits(refs | {house.ref}, late=house.ref, comes=comes).fits
        yield Further(house.ref, least, _buys(plan), comes, in_time=fits)


def _buys(plan: SeasonPlan) -> tuple[tuple[str, Decimal | None, int], ...]:
    sums: Counter[tuple[str, Decimal | None]] = Counter()
    for order in plan.orders:
        for line in order.lines:
            sums[line.material, line.length] += line.quantity
    return tuple((*item, n) for item, n in sorted(sums.items(), key=lambda row: (row[0][0], row[0][1] or 0)))


def _comes(season: Season, plan: SeasonPlan) -> date | None:
    """Ordered on the day of the plan; a supplier who says no lead time is taken to deliver at once."""
    leads = {offer.ref: offer.lead_days or 0 for offer in season.offers}
    days = [season.as_of + timedelta(days=leads.get(line.offer, 0)) for order in plan.orders for line in order.lines]
    due = {lot.ref: lot.available_from for lot in season.lots}
    taken = {row.lot for row in plan.allocations} | {layout.lot for layout in plan.layouts}
    return max([*days, *(day for ref in taken if (day := due.get(ref)))], default=None)


def _values(season: Season, asking: _Asking) -> Iterator[tuple[str, Decimal]]:
    """Of each house what it would cost to buy all that it still needs, alone; of equal ones it is worked out once."""
    known: dict[Hashable, Decimal] = {}
    for house in asking.line:
        key = _needs(season, house)
        if key not in known:
            try:
                asking.count(f"Pricing {house.name}")
            except OutOfTries:
                return
            known[key] = pays(plan_season(replace(_of(season, [house]), lots=())))
        yield house.ref, known[key]


def _worth(line: Sequence[House], values: dict[str, Decimal]) -> list[int]:
    """Whole numbers whose sum ranks choices: value, then how many, then the least sum of places."""
    n = len(line)
    each = n * n + 1
    unit = n * (each + n) + 1
    cents = [int(values.get(house.ref, Decimal(0)) * _HUNDREDTHS) for house in line]
    return [cent * unit + each + n - place for place, cent in enumerate(cents, 1)]


def _needs(season: Season, house: House) -> Hashable:
    own = sorted(
        (one.material, one.length or 0, one.quantity, one.purpose, one.offcut, one.bent)
        for one in season.in_house
        if one.house == house.ref
    )
    return house.spec, house.site, tuple(own)


def _kinds(
    season: Season, builders: Builders | None, held: Iterable[Held], line: Iterable[House]
) -> Iterator[Hashable]:
    """Houses of one kind need the same material, and the same work by the same day; one that holds something is its
    own."""
    holding = {house for one in held for house in one.houses}
    work: defaultdict[str, list[Hashable]] = defaultdict(list)
    places = {task.ref: n for n, task in enumerate(builders.tasks)} if builders else {}
    first: dict[str, int] = {}
    for task in builders.tasks if builders else ():
        begin = first.setdefault(task.job, places[task.ref])
        after = tuple((places[one.task] - begin, one.lag) for one in task.after)
        own = None if task.fixed is None else task.ref
        work[task.job].append((task.ways, after, task.release, task.due, task.place, task.pauses, own))
    for house in line:
        yield _needs(season, house), tuple(work[house.ref]), house.ref if house.ref in holding else ""


def _of(season: Season, houses: Iterable[House], held: Iterable[Held] = ()) -> Season:
    refs = {house.ref for house in houses}
    away: Counter[str] = Counter()
    for one in held:
        if not one.houses <= refs:
            away[one.lot] += one.quantity
    return replace(
        season,
        houses=tuple(house for house in season.houses if house.ref in refs),
        lots=tuple(replace(lot, quantity=max(0, lot.quantity - away[lot.ref])) for lot in season.lots),
        in_house=tuple(piece for piece in season.in_house if piece.house in refs),
    )
