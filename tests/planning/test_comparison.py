"""A job held against its quote line by line: the worked example, others by fractions, and sums that hold."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.pricing.comparison import Planned, Room, Used, compare, to_come
from farmbuild.planning.pricing.differences import Cause
from farmbuild.planning.pricing.lessons import spread_of
from tests.size import examples

D = Decimal


def _goods(name, quantity, price, *, changed=False):
    return Planned((Room.MATERIALS, name), name, D(quantity), D(price), changed)


def _hours(name, quantity, *, changed=False):
    return Planned((Room.WORK, name), name, D(quantity), D("31.20"), changed)


def _used(room, name, quantity, amount, standard=None):
    return Used((room, name), name, D(quantity), D(amount), None if standard is None else D(standard))


PLANNED = [
    _goods("rail", 41, "14.60"),
    _goods("film", 1, "298"),
    _goods("2x6 16'", 7, "16.55"),
    _goods("screw", 150, "0.07"),
    _goods("delivery", 1, "85"),
    _goods("2x4", 4, "7.60", changed=True),
    _goods("door set", 1, "41.50", changed=True),
    _hours("set", 26),
    _hours("film", "9.25"),
    _hours("door", "3.25", changed=True),
    Planned((Room.EQUIPMENT, "bender"), "bender", D(2), D(18)),
]
USED = [
    _used(Room.MATERIALS, "rail", 42, "590.20"),
    _used(Room.MATERIALS, "film", 1, "311.25"),
    _used(Room.MATERIALS, "2x6 12'", 10, "126.50", "12.20"),
    _used(Room.MATERIALS, "screw", 163, "10.68"),
    _used(Room.MATERIALS, "delivery", 1, "97.40"),
    _used(Room.MATERIALS, "2x4", 5, "39.75"),
    _used(Room.MATERIALS, "door set", 1, "41.50"),
    _used(Room.WORK, "set", 29, "924.38"),
    _used(Room.WORK, "film", 8, "232.00"),
    _used(Room.WORK, "rework", "3.25", "112.94", "31.20"),
    _used(Room.WORK, "door", 4, "116.00"),
    _used(Room.EQUIPMENT, "bender", 3, "54"),
]


def test_the_worked_example():
    found = compare(PLANNED, USED, overhead=D("11.50"), currency="USD")
    rows = {row.name: (row.of_quantity, row.of_price) for row in found.rows}
    assert rows["rail"] == (D("14.60"), D("-23.00"))
    assert rows["2x6 16'"] == (D("-115.85"), 0)
    assert rows["2x6 12'"] == (D("122.00"), D("4.50"))
    assert rows["screw"] == (D("0.91"), D("-0.73"))
    assert rows["2x4"] == (D("7.60"), D("1.75"))
    assert rows["set"] == (D("93.60"), D("19.58"))
    assert rows["rework"] == (D("101.40"), D("11.54"))
    assert rows["door"] == (D("23.40"), D("-8.80"))
    assert found.overhead == (D("405.38"), D("37.38"), D("508.88"))
    assert found.differences.by_cause == {
        Cause.CHANGE_ORDER: D("210.68"),
        Cause.MATERIAL_PRICE: D("8.17"),
        Cause.MATERIAL_QUANTITY: D("29.26"),
        Cause.HOURS: D("179.40"),
        Cause.RATE: D("4.72"),
        Cause.OVERHEAD: D("66.12"),
        Cause.EQUIPMENT: D("18.00"),
    }
    assert (found.differences.quoted, found.differences.actual) == (D("2649.13"), D("3165.48"))


def test_what_a_change_adds_or_takes_away_of_a_quoted_thing():
    planned = [_goods("rail", 10, "2"), _goods("rail", 5, "3", changed=True), _goods("film", 2, "50")]
    planned.append(_goods("film", -1, "50", changed=True))
    used = [_used(Room.MATERIALS, "rail", 16, "40"), _used(Room.MATERIALS, "film", 1, "55")]
    found = compare(planned, used, overhead=D(0), currency="USD")
    rail, film = found.rows
    assert (rail.quoted, rail.changed, rail.used, rail.paid) == (10, 5, 16, 40)
    # One more than the fifteen that were foreseen, at the price of the change.
    assert rail.of_quantity == 3
    assert (film.of_quantity, film.of_price, film.left) == (0, 5, 0)
    assert found.differences.by_cause[Cause.CHANGE_ORDER] == 15 - 50


def test_what_nobody_offered_stands_at_the_price_paid():
    found = compare([], [_used(Room.MATERIALS, "gate", 3, "100")], overhead=D(0), currency="USD")
    assert (found.rows[0].of_quantity, found.rows[0].of_price) == (100, 0)
    assert not found.rows[0].foreseen


def test_still_to_come_is_what_is_foreseen_less_what_is_used_and_ordered():
    planned = [_goods("rail", 41, "14.60"), _hours("set", 26)]
    used = [_used(Room.MATERIALS, "rail", 20, "258"), _used(Room.WORK, "set", "10.5", "304.50")]
    found = compare(planned, used, overhead=D("11.50"), currency="USD")
    ordered = {(Room.MATERIALS, "rail"): (D(15), D("226.50")), (Room.MATERIALS, "gate"): (D(1), D(80))}
    left = to_come(found, ordered=ordered, overhead=D("11.50"), currency="USD")
    assert left == D("226.50") + 80 + 6 * D("14.60") + D("15.5") * D("31.20") + D("178.25")


@pytest.mark.parametrize(
    ("less", "left"),
    [
        (_goods("Film, wide", -1, "60", changed=True), D("298.00")),
        # More than is to come of goods: as far as that goes.
        (_goods("Film, wide", -9, "60", changed=True), D("0.00")),
        (_hours("ends", -2, changed=True), D("358.00") - 2 * D("42.70")),
    ],
)
def test_what_is_taken_away_by_another_name_is_not_to_come(less, left):
    planned = [_goods("film", 1, "358"), _hours("set", 4), less]
    found = compare(planned, [_used(Room.WORK, "set", 4, "124.80")], overhead=D("11.50"), currency="USD")
    open_hours = less.key[0] == Room.WORK
    assert to_come(found, ordered={}, overhead=D("11.50"), currency="USD") == (D("358.00") if open_hours else left)
    begun = compare(planned, [], overhead=D("11.50"), currency="USD")
    assert to_come(begun, ordered={}, overhead=D("11.50"), currency="USD") == left + 4 * D("42.70")


@examples(40)
@given(st.lists(st.integers(0, 999).map(D), min_size=1, max_size=9))
def test_the_median_of_jobs(figures):
    found = spread_of(figures)
    assert (found.median, found.jobs) == (median(figures), len(figures))
    assert (found.lowest, found.highest) == (min(figures), max(figures))
    assert spread_of([]) is None


_COINS = {"USD": D("0.01"), "JPY": D(1), "KWD": D("0.001")}
_NAMES = st.sampled_from(["rail", "film", "screw", "gate"])
_QUANTITY = st.integers(0, 400).map(lambda n: D(n) / 4)
_PRICE = st.integers(0, 90_000).map(lambda n: D(n) / 10_000)
_PLANNED = st.builds(
    lambda room, name, quantity, price, changed: Planned((room, name), name, quantity, price, changed),
    st.sampled_from(list(Room)),
    _NAMES,
    _QUANTITY,
    _PRICE,
    st.booleans(),
)


def _coins(exact: Fraction, coin: Decimal) -> Fraction:
    """Half up, by fractions alone."""
    whole = (2 * exact / Fraction(coin) + 1) // 2 if exact >= 0 else -((-2 * exact / Fraction(coin) + 1) // 2)
    return whole * Fraction(coin)


@examples(40)
@given(
    st.sampled_from(sorted(_COINS)),
    st.lists(_PLANNED, max_size=8),
    st.dictionaries(
        st.tuples(st.sampled_from(list(Room)), _NAMES),
        st.tuples(_QUANTITY, st.integers(0, 90_000), st.none() | _PRICE),
        max_size=8,
    ),
    _PRICE,
)
def test_quote_changes_and_causes_make_the_cost(currency, planned, used, overhead):
    coin = _COINS[currency]
    rows = [
        Used(key, key[1], quantity, coins * coin if quantity else D(0), standard)
        for key, (quantity, coins, standard) in used.items()
    ]
    found = compare(planned, rows, overhead=overhead, currency=currency)
    causes = found.differences.by_cause
    assert found.differences.quoted + sum(causes.values()) == found.differences.actual
    paid = sum(row.amount for row in rows)
    hours = sum(row.quantity for row in rows if row.key[0] == Room.WORK)
    assert found.differences.actual == paid + (hours * overhead).quantize(coin, ROUND_HALF_UP)
    assert sum(row.paid for row in found.rows) == paid
    assert all(row.of_quantity + row.of_price == row.difference for row in found.rows)
    asked = [line for line in planned if not line.changed]
    quoted = sum(_coins(Fraction(line.quantity) * Fraction(line.price), coin) for line in asked)
    worked = Fraction(sum(line.quantity for line in asked if line.key[0] == Room.WORK))
    assert Fraction(found.differences.quoted) == quoted + _coins(worked * Fraction(overhead), coin)


_ANY_QUANTITY = st.integers(-80, 120).map(lambda n: D(n) / 4)
_ROOMS = st.sampled_from([Room.MATERIALS, *Room])
_LINES = st.builds(
    lambda room, name, quantity, price, changed, charge: Planned(
        (room, name), name, quantity if changed else abs(quantity), price, changed, charge and room == Room.MATERIALS
    ),
    _ROOMS,
    st.sampled_from(["rail", "film"]),
    _ANY_QUANTITY,
    st.integers(0, 900).map(lambda n: D(n) / 100),
    st.booleans(),
    st.booleans(),
)
_MANY_USED = st.dictionaries(
    st.tuples(_ROOMS, st.sampled_from(["rail", "film", "gate"])),
    st.tuples(_ANY_QUANTITY, st.integers(-9000, 9000).map(lambda n: D(n) / 100)),
    max_size=4,
)


def _cents(exact: Fraction) -> Decimal:
    return D(int(_coins(exact, D("0.01")) * 100)) / 100


def _at(quantity: Decimal, price: Decimal) -> Decimal:
    return _cents(Fraction(quantity) * Fraction(price))


def _filled(used: Decimal, foreseen: list[Decimal]) -> list[Decimal]:
    """What is used poured over the lines that ask for something, in their order; the last of them has the rest."""
    taking = [at for at, quantity in enumerate(foreseen) if quantity >= 0] or [0]
    shares = [D(0)] * len(foreseen)
    low = D(0)
    for at in taking[:-1]:
        shares[at] = min(max(used, low), low + foreseen[at]) - low
        low += foreseen[at]
    shares[taking[-1]] = used - sum(shares)
    return shares


@examples(60)
@given(st.lists(_LINES, max_size=7), _MANY_USED, _MANY_USED)
def test_each_row_is_what_its_lines_and_its_use_come_to(planned, used, ordered):
    rows = [Used(key, key[1], quantity, amount) for key, (quantity, amount) in used.items()]
    found = compare(planned, rows, overhead=D("1.5"), currency="USD")
    lines = {key: [line for line in planned if line.key == key] for key in dict.fromkeys(line.key for line in planned)}
    charges = {key for key, some in lines.items() if key not in used and any(line.charge for line in some)}
    whole = part = Fraction(0)
    for key, some in lines.items():
        foreseen = sum(line.quantity for line in some)
        if key[0] == Room.MATERIALS and key not in charges and foreseen > 0:
            whole += Fraction(foreseen * some[0].price)
            part += Fraction(min(max(used.get(key, [D(0)])[0], D(0)), foreseen) * some[0].price)
    part = part / whole if whole else Fraction(0)
    assert [row.key for row in found.rows] == [*lines, *(key for key in used if key not in lines)]
    to_do = {room: D(0) for room in Room}
    hours = D(0)
    for row in found.rows:
        some = lines.get(row.key, [])
        quantity, amount = used.get(row.key, (D(0), D(0)))
        if row.key in charges:
            exact = Fraction(sum(line.quantity for line in some)) * part
            assert abs(Fraction(row.used) - exact) <= Fraction(1, 2000)
            quantity = row.used
        assert (row.used, row.paid, row.within) == (quantity, amount, row.key in charges)
        assert row.foreseen == bool(some)
        for changed, quoted, coins in ((False, row.quoted, row.quoted_amount), (True, row.changed, row.changed_amount)):
            of = [line for line in some if line.changed is changed]
            assert quoted == sum(line.quantity for line in of)
            assert coins == sum(_at(line.quantity, line.price) for line in of)
        if some:
            shares = _filled(quantity, [line.quantity for line in some])
            standard = sum(_at(share, line.price) for share, line in zip(shares, some, strict=True))
            assert row.standard == some[0].price
        else:
            standard = amount if quantity > 0 and amount >= 0 else D(0)
            assert row.standard == (amount / quantity if standard else 0)
        assert row.of_quantity == standard - row.quoted_amount - row.changed_amount
        assert row.of_price == amount - standard
        foreseen = row.quoted + row.changed
        assert row.left == max(D(0), foreseen - quantity)
        left = max(D(0), row.left - ordered.get(row.key, [D(0)])[0]) + min(D(0), foreseen)
        to_do[row.key[0]] += _at(left, row.standard)
        hours += left if row.key[0] == Room.WORK else 0
    work = [line for line in planned if line.key[0] == Room.WORK]
    assert found.overhead == tuple(
        _at(sum((some for some in quantities), D(0)), D("1.5"))
        for quantities in (
            [line.quantity for line in work if not line.changed],
            [line.quantity for line in work if line.changed],
            [quantity for key, (quantity, _) in used.items() if key[0] == Room.WORK],
        )
    )
    assert to_come(found, ordered=ordered, overhead=D("1.5"), currency="USD") == (
        sum((amount for _, amount in ordered.values()), D(0))
        + sum(max(D(0), some) for some in to_do.values())
        + _at(max(D(0), hours), D("1.5"))
    )
    assert all(row in found.of(row.key[0]) for row in found.rows)
    assert sum(len(found.of(room)) for room in Room) == len(found.rows)


def test_a_charge_within_the_goods_counts_as_used_as_far_as_they_are():
    """Of 40 in rails and 60 in film the rails are used up, more than were foreseen, and a third of the film: 60 %."""
    delivery = Planned((Room.MATERIALS, "delivery"), "delivery", D(1), D(85), charge=True)
    goods = [_goods("rail", 10, "4"), _goods("film", 3, "20"), _goods("gate", 0, "9")]
    used = [_used(Room.MATERIALS, "rail", 12, "50"), _used(Room.MATERIALS, "film", 1, "20")]
    found = compare([*goods, delivery], used, overhead=D(0), currency="USD")
    row = next(row for row in found.rows if row.name == "delivery")
    assert (row.used, row.paid, row.within) == (D("0.600"), 0, True)
    assert (row.of_quantity, row.of_price) == (51 - 85, -51)
    # Billed by itself it is what was billed, and no goods.
    billed = [*used, _used(Room.MATERIALS, "delivery", 1, "90")]
    found = compare([*goods, delivery], billed, overhead=D(0), currency="USD")
    row = next(row for row in found.rows if row.name == "delivery")
    assert (row.used, row.paid, row.within) == (1, 90, False)
