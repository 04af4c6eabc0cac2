"""Which houses the yard alone gives to who is there, against every choice of them."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

import pytest

from farmbuild.planning.advice.builders import Builders, CrewTime, time_limits
from farmbuild.planning.advice.limits import Limit
from farmbuild.planning.advice.proof import pays
from farmbuild.planning.advice.without_buying import Held, Wanted, WithoutBuying, without_buying
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot, Season
from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window
from farmbuild.planning.season.plan import plan_season
from tests.planning.scheduling_reference import better
from tests.planning.seasons import AS_OF, LOW, TWELVE, TWENTY, feet, house, inches
from tests.planning.seasons import season as whole_season
from tests.planning.test_advice import season
from tests.size import sized

#: Two sticks of a hoop and two posts: 13 hoops, 26 sticks and 26 posts a house.
RAILS = Lot("L-1", "rail-1-3-8", feet(10), 26, Decimal("12"), "Rack")
#: Four working days of six slots each.
DAY, LAST = 10, 40


def posts(pieces: int, length: Decimal, ref: str = "L-2") -> Lot:
    return Lot(ref, "rail-1-5-8", length, pieces, Decimal("9"), "Rack")


def alone(asked: Season, houses: tuple[str, ...], held: tuple[Held, ...] = ()) -> bool:
    """Planned with nothing on offer and only what is there and not held for others."""
    kept = tuple(house for house in asked.houses if house.ref in houses)
    away = {one.lot: one.quantity for one in held if not one.houses <= set(houses)}
    lots = tuple(
        replace(lot, quantity=lot.quantity - away.get(lot.ref, 0))
        for lot in asked.lots
        if lot.available_from is None and not lot.common
    )
    return not plan_season(replace(asked, houses=kept, lots=lots, offers=(), suppliers=())).unmet


def line(asked: Season) -> list[House]:
    return sorted(asked.houses, key=lambda house: (house.need_date, house.ref))


def in_time(builders: Builders | None, houses: tuple[str, ...]) -> bool:
    """Every schedule tried, slot by slot."""
    if builders is None:
        return True
    if {house for house, _ in builders.cannot} & set(houses):
        return False
    tasks = [
        task if task.job in houses else replace(task, due=None, after=())
        for task in builders.tasks
        if task.job in houses or task.fixed
    ]
    return better(tasks, builders.resources, 1, 0, LAST) is not None


def best(
    asked: Season,
    builders: Builders | None,
    values: dict[str, Decimal] | None = None,
    held: tuple[Held, ...] = (),
) -> tuple[Decimal, int, int]:
    """Value, how many and the least sum of places of the best of all choices."""
    places = {house.ref: n for n, house in enumerate(line(asked), 1)}
    return max(
        (sum((values[ref] for ref in some), Decimal(0)) if values else Decimal(0), n, -sum(places[ref] for ref in some))
        for n in range(len(places) + 1)
        for some in combinations(places, n)
        if alone(asked, some, held) and in_time(builders, some)
    )


def told(found: WithoutBuying, asked: Season) -> tuple[Decimal, int, int]:
    places = {house.ref: n for n, house in enumerate(line(asked), 1)}
    values = dict(found.values)
    own = sum((values.get(ref, Decimal(0)) for ref in found.houses), Decimal(0))
    return own, len(found.houses), -sum(places[ref] for ref in found.houses)


def work(house: str, slots: int, due: int | None, crews: tuple[str, ...] = ("crew-1",), people: int = 2) -> list[Task]:
    """Bent with the one bender, then set."""
    ways = tuple(Way((Need(crew, people),), slots) for crew in crews)
    bent = tuple(Way((Need(crew, people), Need("bender-1")), 1) for crew in crews)
    return [
        Task(f"{house}:bend", bent, job=house, due=due, place="north"),
        Task(f"{house}:set", ways, (After(f"{house}:bend"),), job=house, due=due, place="north"),
    ]


def crew(ref: str, people: int = 2, days: int = 4) -> Resource:
    return Resource(ref, people, tuple(Window(DAY * n, DAY * n + 6, people) for n in range(days)), travels=True)


def hired(*tasks: Task, crews: tuple[Resource, ...] = (crew("crew-1"),), cannot=()) -> Builders:
    bender = Resource("bender-1", 1)
    days = {AS_OF + timedelta(days=n): DAY * n for n in range(4)}
    return Builders(tasks, Resources((*crews, bender)), frozenset(task.ref for task in tasks), cannot, days)


def test_rails_for_one_house_give_one_house_the_one_needed_first() -> None:
    asked = season(inches(48), inches(48), lots=(RAILS, posts(52, inches(48))))
    later = replace(asked.houses[0], need_date=date(2027, 7, 1))
    asked = replace(asked, houses=(later, asked.houses[1]))
    found = without_buying(asked)
    assert found.houses == ("h1",) and found.proven
    # The other takes 26 sticks at 13.00 with 6.25 % tax, 338.00 + 21.13, and 85.00 delivery.
    (further,) = found.further
    assert (further.house, further.pays, further.in_time) == ("h0", Decimal("444.13"), True)
    assert further.buys == (("rail-1-3-8", feet(10), 26),)


def test_what_is_on_its_way_or_belongs_to_others_does_not_lie_in_the_yard() -> None:
    for there in (replace(RAILS, available_from=AS_OF + timedelta(days=3)), replace(RAILS, common="Valley")):
        asked = season(inches(48), lots=(there, posts(26, inches(48))))
        assert without_buying(asked).houses == ()
    assert without_buying(replace(asked, lots=(RAILS, posts(26, inches(48))))).houses == ("h0",)


def test_what_nobody_sells_cannot_be_bought() -> None:
    asked = season(inches(48), lots=(posts(26, inches(48)),))
    asked = replace(asked, offers=tuple(one for one in asked.offers if one.material != "rail-1-3-8"))
    (further,) = without_buying(asked).further
    assert further.pays is None and further.why == ""


def test_too_few_tries_and_one_who_asks_for_the_end_prove_nothing() -> None:
    # Four posts of 63 in come from 21 ft by counting, and three with the saw cuts.
    asked = season(inches(63), inches(48), lots=(replace(RAILS, quantity=52), posts(11, feet(21))))
    assert not without_buying(asked, tries=1).proven
    assert not without_buying(asked, ended=lambda: True).proven
    assert without_buying(asked).proven


def test_a_crew_without_hours_before_the_day_leaves_a_house_that_the_yard_has() -> None:
    asked = season(inches(48), inches(48), lots=(replace(RAILS, quantity=52), posts(52, inches(48))))
    # Twelve slots until the second day is over, of which each house takes seven.
    tasks = [*work("h0", 6, 2 * DAY), *work("h1", 6, 2 * DAY)]
    found = without_buying(asked, hired(*tasks))
    assert found.houses == ("h0",) and found.proven
    (further,) = found.further
    assert (further.house, further.pays, further.in_time) == ("h1", Decimal(0), False)
    assert without_buying(asked, hired(*tasks, crews=(crew("crew-1"), crew("crew-2")))).houses == ("h0",)
    both = [*work("h0", 6, 2 * DAY), *work("h1", 6, 2 * DAY, ("crew-1", "crew-2"))]
    assert without_buying(asked, hired(*both, crews=(crew("crew-1"), crew("crew-2")))).houses == ("h0", "h1")


def test_work_that_is_published_elsewhere_keeps_its_hours() -> None:
    asked = season(inches(48), lots=(RAILS, posts(26, inches(48))))
    own = work("h0", 6, 2 * DAY)
    assert without_buying(asked, hired(*own)).houses == ("h0",)
    way = (Way((Need("crew-1", 2),), 6),)
    away = Task("other:film", way, job="other", place="north", fixed=Placed("other:film", 0, 6, 0))
    assert without_buying(asked, hired(*own, away)).houses == ()


def test_who_has_no_bender_for_its_recipe_cannot_build_it_whatever_is_bought() -> None:
    asked = season(inches(48), inches(48), lots=(replace(RAILS, quantity=52), posts(52, inches(48))))
    found = without_buying(asked, hired(*work("h1", 2, None), cannot=(("h0", "No bender makes it."),)))
    assert found.houses == ("h1",)
    (further,) = found.further
    assert (further.pays, further.in_time, further.why) == (None, False, "No bender makes it.")


def test_what_is_bought_has_to_come_before_it_is_worked_on() -> None:
    asked = season(inches(48), lots=(posts(26, inches(48)),))
    lead = asked.offers[0].lead_days or 0
    found = without_buying(asked, hired(*work("h0", 3, None)))
    assert found.further[0].comes == AS_OF + timedelta(days=lead)
    soon = replace(asked, offers=tuple(replace(one, lead_days=1) for one in asked.offers))
    late = replace(asked, offers=tuple(replace(one, lead_days=2) for one in asked.offers))
    for given, fits in ((soon, True), (late, False)):
        assert without_buying(given, hired(*work("h0", 3, 2 * DAY))).further[0].in_time is fits


@pytest.mark.parametrize("seed", range(sized(4, 40)))
def test_no_choice_of_houses_is_better(seed: int) -> None:
    rng = random.Random(seed)
    asked, builders = drawn(rng), None
    if seed % 2:
        tasks = [
            one
            for n in range(4)
            for one in work(f"h{n}", rng.randrange(2, 6), rng.choice([DAY, 2 * DAY]), people=rng.choice([1, 2]))
        ]
        builders = hired(*tasks, crews=(crew("crew-1", rng.choice([1, 2])),))
    found = without_buying(asked, builders)
    assert told(found, asked) == best(asked, builders) and found.proven
    check_further(asked, found)
    # Rails of one house are held for the one that is needed last.
    held = (Held("L-1", 26, frozenset({line(asked)[-1].ref})),)
    holding = without_buying(asked, builders, held=held)
    assert told(holding, asked) == best(asked, builders, held=held) and holding.proven
    by_value = without_buying(asked, builders, wanted=Wanted.VALUE)
    assert told(by_value, asked) == best(asked, builders, dict(by_value.values))
    for ref, value in by_value.values:
        kept = tuple(one for one in asked.houses if one.ref == ref)
        assert value == pays(plan_season(replace(asked, houses=kept, lots=())))


def drawn(rng: random.Random) -> Season:
    lengths = [inches(rng.choice([40, 48, 60, 72])) for _ in range(4)]
    lots = (
        replace(RAILS, quantity=26 * rng.randrange(1, 4)),
        *(posts(rng.randrange(10, 60), inches(n), f"L-{n}") for n in rng.sample([40, 48, 60, 72, 126], 3)),
    )
    asked = season(*lengths, lots=lots)
    return replace(
        asked,
        houses=tuple(replace(one, need_date=one.need_date + timedelta(days=rng.randrange(30))) for one in asked.houses),
    )


def check_further(asked: Season, found: WithoutBuying) -> None:
    for one in found.further:
        kept = tuple(house for house in asked.houses if house.ref in (*found.houses, one.house))
        plan = plan_season(replace(asked, houses=kept))
        assert one.pays == pays(plan)
        bought = sum(line.quantity for order in plan.orders for line in order.lines)
        assert sum(n for *_, n in one.buys) == bought


def test_of_equal_houses_the_yard_gives_as_many_as_it_has_for_in_few_plans() -> None:
    asked = season(*[inches(48)] * 9, lots=(replace(RAILS, quantity=26 * 7), posts(26 * 9, inches(48))))
    said: list[int] = []
    found = without_buying(asked, progress=lambda done, _: said.append(done))
    assert found.houses == tuple(f"h{n}" for n in range(7)) and found.proven
    # One to choose, and one for each that is left.
    assert len(said) == 3


@pytest.mark.parametrize("specs", [(LOW, LOW), (LOW, TWELVE), (TWELVE, TWENTY)][: sized(2, 3)])
def test_what_a_plan_would_buy_is_enough_once_it_lies_there(specs) -> None:
    asked = whole_season(*(house(f"h{n}", spec) for n, spec in enumerate(specs)))
    bought = [line for order in plan_season(asked).orders for line in order.lines]
    lots = tuple(
        Lot(f"L-{n}", row.material, row.length, row.needed, Decimal(1), "Rack") for n, row in enumerate(bought)
    )
    found = without_buying(replace(asked, lots=lots))
    assert found.houses == ("h0", "h1") and found.proven
    # With one thing fewer of the first row not both are there.
    fewer = (replace(lots[0], quantity=lots[0].quantity - 1), *lots[1:])
    assert len(without_buying(replace(asked, lots=fewer)).houses) < 2


def test_hours_that_are_held_twice_are_taken_off_once() -> None:
    way = (Way((Need("crew-1", 2),), 4),)
    away = [
        Task(f"o{n}", way, job="other", fixed=Placed(f"o{n}", start, end, 0))
        for n, (start, end) in enumerate([(0, 4), (2, 6)])
    ]
    (limit,) = time_limits(hired(*work("h0", 3, 2 * DAY), *away))
    # Twelve slots in two days, six of them held; one of bending and three of setting.
    assert limit == Limit({"h0": 4}, 6)


def test_the_same_question_is_answered_once() -> None:
    time = CrewTime(hired(*work("h0", 3, 2 * DAY)))
    assert time.fits(frozenset({"h0"})) is time.fits(frozenset({"h0"}))
