"""What an order comes to, by fractions, and when it has to go out, day by day."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.buying.sums import LineDays, line_sums, order_by, order_sums
from farmbuild.planning.buying.unknown import unknown_leads
from farmbuild.planning.inputs import Supplier
from tests.size import examples

D = Decimal
TODAY = date(2027, 3, 1)
ROWS = st.lists(st.tuples(st.integers(1, 20), st.integers(0, 900), st.sampled_from([0, 6, 19])), max_size=4)


def coins(amount: Fraction) -> Decimal:
    return D((2 * amount * 100 + 1) // 2) / 100


@examples(60)
@given(ROWS, st.integers(0, 9000), st.none() | st.integers(0, 90), st.booleans())
def test_goods_tax_and_delivery(rows, delivery, free_from, included):
    supplier = Supplier("a", "A", delivery_charge=D(delivery) / 1000, free_delivery_from=free_from and D(free_from))
    lines, goods, tax = [], D(0), D(0)
    for quantity, price, percent in rows:
        line = line_sums(
            quantity,
            D(price) / 1000,
            tax_percent=D(percent),
            currency="USD",
            **({"tax_included": True} if included else {}),
        )
        total = coins(Fraction(quantity * price, 1000))
        part = Fraction(percent, 100 + percent) if included else Fraction(percent, 100)
        assert (line.total, line.tax) == (total, coins(Fraction(total) * part))
        goods, tax = goods + line.total, tax + line.tax
        lines.append(line)
    found = order_sums(lines, supplier, currency="USD", **({"tax_included": True} if included else {}))
    free = not rows or (supplier.free_delivery_from is not None and goods >= supplier.free_delivery_from)
    brought = D(0) if free else coins(Fraction(delivery, 1000))
    assert (found.goods, found.delivery, found.tax) == (goods, brought, tax)
    assert found.total == goods + brought + (0 if included else tax)


def test_goods_that_just_reach_the_free_level_come_free():
    lines = [line_sums(1, D("50"), tax_percent=D(0), currency="USD")]
    for level, charge in (("50", 0), ("50.01", 9), ("0", 0)):
        supplier = Supplier("a", "A", delivery_charge=D(9), free_delivery_from=D(level))
        assert order_sums(lines, supplier, currency="USD").delivery == charge


DAYS = st.builds(
    LineDays,
    st.integers(-3, 30).map(lambda n: TODAY + timedelta(days=n)),
    st.none() | st.integers(0, 12),
    st.none() | st.integers(-2, 25).map(lambda n: TODAY + timedelta(days=n)),
)


@given(st.lists(DAYS, max_size=4))
def test_the_last_day_on_which_all_comes_in_time(lines):
    def serves(day: date) -> bool:
        return all(
            line.lead_days is not None
            and not line.late_days(day)
            and (line.valid_until is None or day <= line.valid_until)
            for line in lines
        )

    days = [TODAY + timedelta(days=n) for n in range(60)]
    assert order_by(lines, TODAY) == (max((day for day in days if serves(day)), default=TODAY) if lines else TODAY)
    for line in lines:
        for day in days[:20]:
            there = day + timedelta(days=line.lead_days or 0)
            late = 0 if line.lead_days is None or there <= line.need_by else (there - line.need_by).days
            assert line.late_days(day) == late


def test_who_has_not_said_how_long_it_takes_is_named_with_what_rests_on_it():
    offers = [
        SimpleNamespace(ref=ref, lead_days=lead) for ref, lead in (("a1", 3), ("a2", None), ("b1", 0), ("c1", None))
    ]

    def order(supplier, *lines):
        rows = tuple(SimpleNamespace(offer=offer, description=words) for offer, words in lines)
        return SimpleNamespace(supplier=supplier, lines=rows)

    orders = (
        order("a", ("a1", "screws"), ("a2", "rail"), ("a2", "pipe"), ("a2", "rail")),
        order("b", ("b1", "film")),
        order("c", ("c1", "wire")),
    )
    plan, season = SimpleNamespace(orders=orders), SimpleNamespace(offers=offers)
    assert unknown_leads(season, plan) == {"a": ("rail", "pipe"), "c": ("wire",)}
