"""Chances of having materials in time, against what can be worked out in full.

One supplier: the chance is the share of lead times that are short enough, whatever their distribution, and the order
goes out by the need date less the 95 % point of the lead time (the reorder point of inventory control for demand that
is known and a lead time that varies: Silver, Pyke and Thomas, Inventory and Production Management in Supply Chains;
from memory). Several suppliers: the product of theirs, as they deliver on their own. Spoilt sticks: SciPy's binomial.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from math import sqrt
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.advice.chances import SEASONS, Chance, Waits, chances
from tests.size import examples

ORDERED = date(2027, 3, 1)
NEED = date(2027, 3, 15)


def near(found: Fraction, true: float) -> bool:
    """Within four standard errors of so many seasons (and one season)."""
    return abs(float(found) - true) <= 4 * sqrt(true * (1 - true) / SEASONS) + 1 / SEASONS


def house(*suppliers: str, **changes) -> Waits:
    return Waits(**{"house": "h", "need_date": NEED, "suppliers": suppliers} | changes)


def one(waits: Waits, leads, **more) -> Chance:
    return chances([waits], leads, ordered_on=ORDERED, **more)[0]


@given(st.lists(st.integers(0, 40), min_size=1, max_size=12))
@examples(10)
def test_of_one_supplier_it_is_the_share_of_lead_times_that_are_short_enough(leads):
    true = sum(days <= 14 for days in leads) / len(leads)
    assert near(one(house("pipe"), {"pipe": leads}).share, true)


def test_a_lead_time_spread_as_the_normal_distribution_is_ordered_by_its_95_percent_point():
    """Mean 10 and standard deviation 2 days: 95 % by 10 + 1.645 x 2 = 13.29, so 14 days; by day 12, 84.1 %."""
    normal = NormalDist(10, 2)
    leads = [round(normal.inv_cdf((k + 0.5) / 2001)) for k in range(2001)]
    found = one(house("pipe"), {"pipe": leads})
    # In whole days: the first day by which 95 % have come, P(X <= 13.5) = 0.9599.
    assert NEED - found.order_by == timedelta(days=13)
    assert near(one(house("pipe", need_date=ORDERED + timedelta(days=12)), {"pipe": leads}).share, normal.cdf(12.5))


def test_suppliers_deliver_on_their_own():
    leads = {"pipe": [10, 20], "film": [5, 8, 14, 30], "wood": [99]}
    assert near(one(house("pipe", "film"), leads).share, 1 / 2 * 3 / 4)
    assert one(house("pipe", "film", "wood"), leads).share == 0


def test_houses_of_one_supplier_stand_or_fall_together():
    both = chances([house("pipe"), house("pipe", house="i")], {"pipe": [10, 20]}, ordered_on=ORDERED)
    assert both[0].share == both[1].share


def test_what_waits_for_nobody_is_in_time():
    assert one(house(), {}) == Chance("h", Fraction(1), NEED)
    assert one(house(need_date=ORDERED - timedelta(days=1)), {}).share == 0


@pytest.mark.parametrize("spare", [0, 1, 2, 4])
def test_sticks_spoilt_beyond_the_spare_ones_are_waited_for_again(spare: int):
    """Of 26 sticks one in 13 is spoilt; in time only where no more are than are spare."""
    binom = pytest.importorskip("scipy.stats").binom
    found = one(
        house("pipe", bends=26, tube="t", again="pipe"), {"pipe": [10]}, spoil=Fraction(1, 13), spare={"t": spare}
    )
    assert near(found.share, float(binom.cdf(spare, 26, 1 / 13)))
    # Ordered a second lead time sooner, all have come.
    assert NEED - found.order_by == timedelta(days=20 if float(found.share) < 0.95 else 10)


def test_spare_sticks_go_to_whoever_needs_theirs_first():
    binom = pytest.importorskip("scipy.stats").binom
    early = house("pipe", bends=10, tube="t", again="pipe", house="early", need_date=NEED - timedelta(days=1))
    late = house("pipe", bends=10, tube="t", again="pipe", house="late")
    found = chances([late, early], {"pipe": [10]}, ordered_on=ORDERED, spoil=Fraction(1, 5), spare={"t": 4})
    assert [one.house for one in found] == ["late", "early"]
    assert near(found[1].share, float(binom.cdf(4, 10, 0.2)))
    both = sum(binom.pmf(a, 10, 0.2) * binom.cdf(max(0, 4 - a), 10, 0.2) for a in range(11))
    assert near(found[0].share, float(both))


def test_the_same_seed_gives_the_same_and_another_hardly_another():
    waits, leads = house("a", "b"), {"a": [3, 9, 15, 16], "b": [7, 13, 21]}
    assert one(waits, leads) == one(waits, leads)
    assert one(waits, leads) != one(waits, leads, seed=2)
    assert near(one(waits, leads, seed=2).share, 2 / 4 * 2 / 3)
