"""Which houses the yard alone gives, against every choice of them."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

import pytest

from farmbuild.planning.advice.proof import pays
from farmbuild.planning.advice.without_buying import Further, without_buying
from farmbuild.planning.inputs import Lot, Season
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import AS_OF, feet, inches
from tests.planning.test_advice import season
from tests.size import sized

#: Two sticks of a hoop and two posts: 13 hoops, 26 sticks and 26 posts a house.
RAILS = Lot("L-1", "rail-1-3-8", feet(10), 26, Decimal("12"), "Rack")


def posts(pieces: int, length: Decimal, ref: str = "L-2") -> Lot:
    return Lot(ref, "rail-1-5-8", length, pieces, Decimal("9"), "Rack")


def alone(asked: Season, houses: tuple[str, ...]) -> bool:
    """Planned with nothing on offer and only what is there."""
    kept = tuple(house for house in asked.houses if house.ref in houses)
    lots = tuple(lot for lot in asked.lots if lot.available_from is None)
    return not plan_season(replace(asked, houses=kept, lots=lots, offers=(), suppliers=())).unmet


def test_rails_for_one_house_give_one_house_the_one_needed_first() -> None:
    asked = season(inches(48), inches(48), lots=(RAILS, posts(52, inches(48))))
    later = replace(asked.houses[0], need_date=date(2027, 7, 1))
    asked = replace(asked, houses=(later, asked.houses[1]))
    found = without_buying(asked)
    assert found.houses == ("h1",) and found.proven
    # The other takes 26 sticks at 13.00 with 6.25 % tax, 338.00 + 21.13, and 85.00 delivery.
    assert found.further == (Further("h0", Decimal("444.13")),)


def test_what_is_on_its_way_does_not_lie_in_the_yard() -> None:
    coming = replace(RAILS, available_from=AS_OF + timedelta(days=3))
    asked = season(inches(48), lots=(coming, posts(26, inches(48))))
    assert without_buying(asked).houses == ()
    assert without_buying(replace(asked, lots=(RAILS, posts(26, inches(48))))).houses == ("h0",)


def test_what_nobody_sells_cannot_be_bought() -> None:
    asked = season(inches(48), lots=(posts(26, inches(48)),))
    asked = replace(asked, offers=tuple(one for one in asked.offers if one.material != "rail-1-3-8"))
    assert without_buying(asked).further == (Further("h0", None),)


def test_too_few_tries_prove_nothing() -> None:
    asked = season(inches(60), inches(48), lots=(RAILS, posts(26, inches(48))))
    found = without_buying(asked, tries=1)
    assert not found.proven
    # One season is planned, that of the house without posts; the yard would give the other.
    assert found.houses == () and [one.house for one in found.further] == ["h0"]
    assert without_buying(asked).houses == ("h1",)


@pytest.mark.parametrize("seed", range(sized(4, 40)))
def test_no_choice_of_houses_has_more(seed: int) -> None:
    rng = random.Random(seed)
    lengths = [inches(rng.choice([40, 48, 60, 72])) for _ in range(4)]
    lots = (
        replace(RAILS, quantity=26 * rng.randrange(1, 4)),
        *(posts(rng.randrange(10, 60), inches(n), f"L-{n}") for n in rng.sample([40, 48, 60, 72, 126], 3)),
    )
    asked = season(*lengths, lots=lots)
    asked = replace(
        asked,
        houses=tuple(replace(one, need_date=one.need_date + timedelta(days=rng.randrange(30))) for one in asked.houses),
    )
    found = without_buying(asked)
    most = max(
        (n for n in range(5) for some in combinations([one.ref for one in asked.houses], n) if alone(asked, some)),
    )
    assert len(found.houses) == most and found.proven and alone(asked, found.houses)
    for one in found.further:
        kept = tuple(house for house in asked.houses if house.ref in (*found.houses, one.house))
        assert one.pays == pays(plan_season(replace(asked, houses=kept)))
