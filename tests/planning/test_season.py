"""A season end to end: nothing is lost, the same input gives the same plan, and what cannot be done is said."""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.inputs import Lot, PriceBreak, Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.plan import SeasonError, check_season, plan_season
from farmbuild.planning.season.snapshot import digest
from tests.planning.seasons import (
    BY_CODE,
    HOUSE_TYPES,
    OFFERS,
    SUPPLIERS,
    TWELVE,
    TWENTY,
    big_season,
    feet,
    house,
    inches,
    season,
)
from tests.size import examples, sized
from tests.where import ROOT

ZERO = Decimal(0)


def total(amounts: Iterable[Decimal | int]) -> Decimal:
    return sum((Decimal(a) for a in amounts), ZERO)


def check_conservation(given_in: Season, plan: SeasonPlan) -> None:
    """Stock + bought = used + kerf + leftovers + scrap for every material, counted from the rows of the plan."""
    unmet = Counter[tuple[str, str, str, Decimal | None]]()
    for row in plan.unmet:
        unmet[row.house, row.purpose, row.material, row.length] += row.quantity
    for material in given_in.materials:
        code = material.code

        def size(length: Decimal | None) -> Decimal:
            return Decimal(1) if length is None else length

        stock = total(size(lot.length) * lot.quantity for lot in given_in.lots if lot.material == code)
        bought = total(
            size(line.length) * line.quantity for order in plan.orders for line in order.lines if line.material == code
        )
        left = total(size(row.length) * row.quantity for row in plan.leftovers if row.material == code)
        used = kerf = scrap = ZERO
        saw = ZERO if material.kind == "film" else given_in.kerf
        for layout in plan.layouts:
            if layout.material != code:
                continue
            pieces = total(p.length for p in layout.pieces)
            dust = layout.stick_length - pieces - layout.remainder
            # One kerf a piece, save the last when it ends the stick; the last may run off the end.
            assert dust <= saw * len(layout.pieces)
            assert dust >= saw * (len(layout.pieces) - 1)
            assert layout.remainder == 0 or dust == saw * len(layout.pieces)
            used += pieces * layout.times
            kerf += dust * layout.times
            if 0 < layout.remainder < given_in.keep_from:
                scrap += layout.remainder * layout.times
        for row in plan.takeoff:
            if row.material != code or not row.whole:
                continue
            short = unmet[row.house, row.purpose, row.material, row.length]
            trims = max(0, row.trims - short)
            dust = min(given_in.kerf, row.trim)
            used += size(row.length) * (row.quantity - short) - row.trim * trims
            kerf += dust * trims
            if 0 < row.trim - dust < given_in.keep_from:
                scrap += (row.trim - dust) * trims
        assert stock + bought == used + kerf + left + scrap, code
        said = next((b for b in plan.balances if b.material == code), None)
        if said is None:
            assert stock == bought == used == ZERO
        else:
            assert (said.stock, said.bought, said.used) == (stock, bought, used)
            assert (said.kerf, said.leftover, said.scrap) == (kerf, left, scrap)


def check_demand(plan: SeasonPlan) -> None:
    """Every row of the take-off is cut, given out, bought or said to be unmet; channel by its run."""
    cut = Counter[tuple[str, str, str]]()
    for layout in plan.layouts:
        for piece in layout.pieces:
            cut[piece.house, piece.purpose, layout.material] += int(piece.length * 10**6) * layout.times
    for row in plan.unmet:
        if not any(t.whole and t.house == row.house and t.purpose == row.purpose for t in plan.takeoff):
            assert row.length is not None
            cut[row.house, row.purpose, row.material] += int(row.length * 10**6) * row.quantity
    asked = Counter[tuple[str, str, str]]()
    for want in plan.takeoff:
        if not want.whole:
            assert want.length is not None
            asked[want.house, want.purpose, want.material] += int(want.length * 10**6) * want.quantity
    assert cut == asked
    whole = sum(t.quantity for t in plan.takeoff if t.whole)
    given_out = sum(a.quantity for a in plan.allocations)
    short = sum(s.quantity for s in plan.shortfalls) - sum(x.times for x in plan.layouts if not x.lot)
    lost = sum(u.quantity for u in plan.unmet if any(t.whole and t.purpose == u.purpose for t in plan.takeoff))
    assert whole == given_out + short + lost
    ordered = sum(line.needed for order in plan.orders for line in order.lines)
    assert ordered == sum(s.quantity for s in plan.shortfalls)


def check_lots(given_in: Season, plan: SeasonPlan) -> None:
    """No lot gives more than it has, and each keeps its material and length."""
    used = Counter[str]()
    lots = {lot.ref: lot for lot in given_in.lots}
    for a in plan.allocations:
        assert (lots[a.lot].material, lots[a.lot].length, lots[a.lot].offcut) == (a.material, a.length, False)
        used[a.lot] += a.quantity
    for layout in plan.layouts:
        if layout.lot:
            assert (lots[layout.lot].material, lots[layout.lot].length) == (layout.material, layout.stick_length)
            used[layout.lot] += layout.times
    left = {row.lot: row.quantity for row in plan.leftovers if row.source == "lot"}
    for ref, lot in lots.items():
        assert used[ref] + left.get(ref, 0) == lot.quantity


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    built = [
        house(
            f"H{n}",
            replace(draw(st.sampled_from(HOUSE_TYPES)), length=feet(draw(st.integers(20, 60)))),
            site=draw(st.sampled_from(["north", "creek"])),
            need=draw(st.sampled_from([date(2027, 2, 5), date(2027, 3, 1), date(2027, 5, 1)])),
        )
        for n in range(draw(st.integers(1, 4)))
    ]
    lots = []
    for n in range(draw(st.integers(0, 12))):
        sold = draw(st.sampled_from(OFFERS))
        length = sold.length
        offcut = length is not None and draw(st.booleans())
        if offcut:
            length = inches(draw(st.integers(6, 190))) + draw(st.sampled_from([ZERO, inches("0.0625"), Decimal(1)]))
        quantity = draw(st.integers(0, 30))
        cost = Decimal(draw(st.integers(0, 2000))) / 100
        lots.append(Lot(f"L{n}", sold.material, length, quantity, cost, "rack", offcut))
    offers = tuple(o for o in OFFERS if o.material not in draw(st.sets(st.sampled_from(sorted(BY_CODE)), max_size=2)))
    return season(
        *built,
        lots=tuple(lots),
        offers=offers,
        kerf=draw(st.sampled_from([ZERO, inches("0.125"), Decimal(3)])),
        keep_from=draw(st.sampled_from([ZERO, feet(2), feet(30)])),
    )


def check_plan(given_in: Season, plan: SeasonPlan) -> None:
    check_conservation(given_in, plan)
    check_demand(plan)
    check_lots(given_in, plan)
    assert all(row.quantity > 0 and row.value >= 0 for row in plan.leftovers)
    assert all(row.length is None or not row.offcut or row.length > 0 for row in plan.leftovers)
    assert plan.leftover_value == sum(row.value for row in plan.leftovers)
    # Where pieces are left out, the cost of the rest may be the least while fewer might have been.
    short = {row.material for row in plan.unmet}
    assert all(c.bound <= c.cost and c.optimal <= (c.bound == c.cost) for c in plan.cut_summaries)
    assert all(c.optimal for c in plan.cut_summaries if c.bound == c.cost and c.material not in short)


@examples(2, 40)
@given(seasons())
def test_nothing_is_lost(given_in: Season) -> None:
    check_plan(given_in, plan_season(given_in))


@examples(12)
@given(seasons())
def test_nothing_is_lost_where_the_search_is_ended(given_in: Season) -> None:
    check_plan(given_in, plan_season(given_in, ended=lambda: True))


def test_nothing_is_lost_in_a_large_season() -> None:
    given_in = big_season(sized(14, 40), lots=sized(280, 800))
    plan = plan_season(given_in)
    check_conservation(given_in, plan)
    check_demand(plan)
    check_lots(given_in, plan)
    assert plan.unmet == ()


@cache
def large() -> tuple[Season, SeasonPlan]:
    given_in = big_season(12, lots=300)
    return given_in, plan_season(given_in)


SCRIPT = """
from farmbuild.planning.season.plan import plan_season
from farmbuild.planning.season.snapshot import digest
from tests.planning.seasons import big_season
print(digest(plan_season(big_season(12, lots=300))))
"""


def test_the_same_plan_to_the_letter_in_any_process() -> None:
    """This one and another, each with an order of sets of its own."""
    env = os.environ | {"PYTHONHASHSEED": "77", "PYTHONPATH": str(ROOT)}
    run = subprocess.run([sys.executable, "-c", SCRIPT], env=env, cwd=ROOT, capture_output=True, text=True, check=True)
    _, plan = large()
    assert run.stdout.strip() == digest(plan)
    assert len(digest(plan)) == 64


def test_order_of_lots_and_offers_does_not_matter() -> None:
    given_in, plan = large()
    assert plan_season(replace(given_in, lots=given_in.lots[::-1], offers=given_in.offers[::-1])) == plan


def test_leftovers_have_their_value() -> None:
    """One 12 ft house, with a lot that is not touched and a purlin run that is trimmed; worked by hand."""
    spec = replace(TWELVE, length=feet(50), spacing_wanted=feet(5))
    spare = Lot("L1", "emt-3-4", feet(10), 3, Decimal("8.40"), "rack")
    plan = plan_season(season(house("a", spec), lots=(spare,)))
    rows = {(row.material, row.source, row.length): row for row in plan.leftovers}
    # 3 x 8.40.
    assert rows["emt-3-4", "lot", feet(10)].value == Decimal("25.20")
    # Rail: 22 for hoops and 3 runs of 6, 40 from pipe: 40 x 14.60 = 584, or 40 of tubes in tens at 13.90 = 556.
    # 90 in sawn off each of 3 runs, less 1/8 in of kerf: 3 x 89.875 / 120 x 13.90 = 31.23.
    trim = rows["rail-1-3-8", "cut", inches("89.875")]
    assert (trim.quantity, trim.place, trim.offcut) == (3, "north", True)
    price = next(x.unit_price for o in plan.orders for x in o.lines if x.material == "rail-1-3-8")
    assert price in (Decimal("14.60"), Decimal("13.90"))
    assert trim.value == (price * 3 * Decimal("89.875") / 120).quantize(Decimal("0.01"))
    # 44 bolts from packs of 25: 6 over at 0.62.
    bolts = rows["bolt", "bought", None]
    assert (bolts.quantity, bolts.value) == (6, Decimal("3.72"))


def test_progress_is_told_to_the_end() -> None:
    told: list[tuple[int, int, str]] = []
    plan_season(season(house("a", TWELVE), house("b", TWENTY)), progress=lambda *step: told.append(step))
    done = [step[0] for step in told]
    assert done == sorted(done)
    assert told[0][2] == "Taking off House a"
    assert any("cuts of 2x4" in words for _, _, words in told)
    assert told[-1][0] == told[-1][1]


def test_an_empty_season_is_a_plan() -> None:
    plan = plan_season(season())
    assert (plan.takeoff, plan.orders, plan.unmet, plan.leftovers) == ((), (), (), ())


def test_late_is_said_on_the_line_and_does_not_stop_the_plan() -> None:
    plan = plan_season(season(house("a", TWELVE, need=date(2027, 2, 4))))
    late = {line.material: line.late_days for order in plan.orders for line in order.lines}
    # 3 days away: lumber comes in 2, rail in 6, film in 10.
    assert (late["lumber-2x4"], late["rail-1-3-8"], late["film-32"]) == (0, 3, 7)


def test_what_nobody_sells_is_unmet() -> None:
    offers = tuple(o for o in OFFERS if o.material != "anchor")
    plan = plan_season(season(house("a", TWELVE), offers=offers))
    assert [(u.material, u.quantity, u.house) for u in plan.unmet] == [("anchor", 8, "a")]


def test_houses_that_cannot_be_built_are_named() -> None:
    bad = season(house("a", TWELVE), house("b", replace(TWELVE, post_span=feet(30))))
    with pytest.raises(SeasonError) as error:
        plan_season(bad)
    (found,) = error.value.houses
    assert (found.house, found.problem.field) == ("b", "post_span")
    assert "House b" in error.value.reasons[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"houses": (house("a", TWELVE), house("a", TWELVE))}, "house 'a' is listed 2 times"),
        ({"houses": (house("a", TWELVE, site="moon"),)}, "'moon'"),
        ({"lots": (Lot("L1", "gold", feet(1), 1, ZERO, "p"),)}, "'gold'"),
        ({"lots": (Lot("L1", "bolt", feet(1), 1, ZERO, "p"),)}, "counted"),
        ({"lots": (Lot("L1", "lumber-2x4", None, 1, ZERO, "p"),)}, "needs a length"),
        ({"lots": (Lot("L1", "bolt", None, -1, ZERO, "p"),)}, "below 0"),
        ({"suppliers": ()}, "supplier, 'pipe'"),
        ({"offers": (replace(OFFERS[0], pack=0),)}, "pack below 1"),
        ({"offers": (replace(OFFERS[0], breaks=OFFERS[0].breaks[::-1]),)}, "do not rise"),
        ({"kerf": Decimal(-1)}, "saw cut"),
        ({"lots": (Lot("L1", "bolt", None, 10**12, ZERO, "p"),)}, "above 10,000,000"),
        ({"offers": (replace(OFFERS[0], pack=10**12),)}, "above 10,000,000"),
        ({"suppliers": (replace(SUPPLIERS[0], minimum_order=Decimal(-1)), *SUPPLIERS[1:])}, "Invented Pipe"),
    ],
)
def test_a_season_that_makes_no_sense_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(SeasonError, match=words):
        check_season(season(**changes))


MANY = 10_000_000
LOT = Lot("L1", "lumber-2x4", feet(8), 1, ZERO, "p")
STEP = Decimal("0.000001")


def refused(**changes: object) -> bool:
    try:
        check_season(season(**changes))
    except SeasonError as error:
        assert all(reason.endswith(".") for reason in error.reasons) and error.houses == ()
        return True
    return False


@pytest.mark.parametrize(
    ("field", "least", "most"),
    [
        ("quantity", (0, -1), (MANY, MANY + 1)),
        ("unit_cost", (ZERO, -STEP), (Decimal(MANY), MANY + STEP)),
        ("length", (STEP, ZERO), (Decimal(MANY), MANY + STEP)),
    ],
)
def test_figures_of_a_lot_at_their_limits(field: str, least: tuple[object, ...], most: tuple[object, ...]) -> None:
    for passes, fails in (least, most):
        assert not refused(lots=(replace(LOT, **{field: passes}),))
        assert refused(lots=(replace(LOT, **{field: fails}),))


def test_figures_of_an_offer_at_their_limits() -> None:
    first = OFFERS[0]

    def breaks(*steps: tuple[int, Decimal]) -> dict[str, object]:
        return {"offers": (replace(first, breaks=tuple(PriceBreak(*step) for step in steps)),)}

    for field, passes, fails in (("pack", 1, 0), ("pack", MANY, MANY + 1), ("lead_days", 0, -1)):
        assert not refused(offers=(replace(first, **{field: passes}),))
        assert refused(offers=(replace(first, **{field: fails}),))
    for passes, fails in (
        ([(1, ZERO)], [(1, -STEP)]),
        ([(1, Decimal(MANY))], [(1, MANY + STEP)]),
        ([(MANY, ZERO)], [(MANY + 1, ZERO)]),
        ([(1, ZERO), (2, ZERO)], [(2, ZERO), (2, ZERO)]),
        ([(1, ZERO), (2, ZERO)], [(2, ZERO), (1, ZERO)]),
        ([(1, ZERO), (2, STEP)], [(1, ZERO), (2, -STEP)]),
    ):
        assert not refused(**breaks(*passes))
        assert refused(**breaks(*fails))


@pytest.mark.parametrize("field", ["delivery_charge", "minimum_order", "free_delivery_from"])
def test_levels_of_a_supplier_at_their_limits(field: str) -> None:
    def with_(amount: Decimal | None) -> dict[str, object]:
        return {"suppliers": (replace(SUPPLIERS[0], **{field: amount}), *SUPPLIERS[1:])}

    for passes in (ZERO, Decimal(MANY), *([None] if field == "free_delivery_from" else [])):
        assert not refused(**with_(passes))
    for fails in (-STEP, MANY + STEP):
        assert refused(**with_(fails))


def test_a_saw_may_take_nothing_and_every_end_may_be_kept() -> None:
    assert not refused(kerf=ZERO, keep_from=ZERO)
    assert refused(kerf=-STEP)
    assert refused(keep_from=-STEP)


@pytest.mark.parametrize("what", ["materials", "sites", "lots", "suppliers", "offers"])
def test_nothing_is_listed_twice(what: str) -> None:
    listed = season(lots=(LOT,))
    rows = getattr(listed, what)
    assert not refused(lots=(LOT,))
    assert refused(**{"lots": (LOT,)} | {what: (*rows, rows[0])})
