"""Small changes that save: each is there by planning again, and the cut plan's values find those that there are."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from farmbuild.measure import TAPE_STEP, UnitSystem
from farmbuild.planning.advice.changes import BY_FIELD, Change, changed
from farmbuild.planning.advice.near import _cuts_of, near_misses
from farmbuild.planning.advice.proof import saving, savings
from farmbuild.planning.cutting import Piece, Stock
from farmbuild.planning.cutting.worth import overfull, piece_values
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot, Season
from farmbuild.planning.results import Allocation
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import AS_OF, BUYER, BY_CODE, MATERIALS, SITES, SUPPLIERS, TWELVE, ZERO, feet, inches, offer
from tests.size import sized

KERF = inches("0.125")
STICKS = (feet(21),)
POSTS = replace(
    TWELVE,
    purlin_material="",
    ridge_purlins=0,
    side_purlins=0,
    hip_board_material="",
    hip_board_rows=0,
    base_board_material="",
    base_board_rows=0,
    end_walls=0,
    end_frame_material="",
    front_door_count=0,
    brace_material="",
    brace_count=0,
    channel_material="",
    channel_runs=0,
    channel_on_ends=False,
    anchor_material="",
    anchor_count=0,
    bolt_material="",
    bolts_per_crossing=0,
    screw_material="",
    screws_per_joint=0,
    film_material="",
    film_layers=0,
    film_side_allowance=ZERO,
    film_end_allowance=ZERO,
)


def season(*posts: Decimal, lots: tuple[Lot, ...] = (), kerf: Decimal = KERF, sticks=STICKS) -> Season:
    """One house of 13 hoops for each length of its 26 posts, whose pipe is sold in 21 ft at 34.00, delivery 85."""
    houses = [
        House(f"h{n}", f"House {n}", "north", date(2027, 6, 1), replace(POSTS, post_length=length))
        for n, length in enumerate(posts)
    ]
    offers = [offer("pipe", "rail-1-3-8", feet(10), {1: "13.00"})]
    offers += [offer("pipe", "rail-1-5-8", length, {1: str(34 + 7 * n)}) for n, length in enumerate(sticks)]
    return Season(
        as_of=AS_OF,
        buyer=BUYER,
        delivery_site="north",
        sites=SITES,
        houses=tuple(houses),
        materials=tuple(m for m in MATERIALS if m.code in ("rail-1-3-8", "rail-1-5-8")),
        lots=lots,
        suppliers=tuple(s for s in SUPPLIERS if s.code == "pipe"),
        offers=tuple(offers),
        kerf=kerf,
        keep_from=inches(24),
    )


def test_posts_a_little_shorter_save_a_stick_in_six() -> None:
    """By hand: 4 posts of 50 1/2 in come from 21 ft. 5 of l need 5 l + 4/8 in <= 252 in: l <= 50.3, on the tape 50 1/4.
    26 posts are then 6 sticks and not 7: 34.00 less, with 6.25 % tax 36.13 less (2.125 rounds to 2.13)."""
    asked = season(inches("50.5"))
    found = savings(asked, plan_season(asked))
    one = next(one for one in found if one.change.field == "post_length")
    assert one.change == Change("post_length", ("h0",), inches("50.5"), inches("50.25"))
    assert one.saved == Decimal("36.13") and one.fewer == (("rail-1-5-8", feet(21), 1),)


@pytest.mark.parametrize(("length", "found"), [("51.25", True), ("51.3125", False)])
def test_a_post_gives_an_inch_and_no_more(length: str, found: bool) -> None:
    """5 of 50 1/4 in come from a stick: 51 1/4 in is just an inch longer, 51 5/16 in a sixteenth too much."""
    asked = season(inches(length))
    saved = [one.change for one in savings(asked, plan_season(asked)) if one.change.field == "post_length"]
    assert [one.new for one in saved] == ([inches("50.25")] if found else [])


def test_in_metric_the_change_is_of_whole_millimetres() -> None:
    """By hand: 5 of l need 5 l + 4 x 3 <= 6000 mm: l <= 1197.6, in whole mm 1197. Of 1200 mm 4 come from a stick."""
    asked = season(Decimal(1200), kerf=Decimal(3), sticks=(Decimal(6000),))
    asked = replace(asked, buyer=replace(asked.buyer, units=UnitSystem.METRIC, decimal_sign=","))
    one = next(one for one in savings(asked, plan_season(asked)) if one.change.field == "post_length")
    assert one.change == Change("post_length", ("h0",), Decimal(1200), Decimal(1197))


def test_the_depth_goes_with_the_post() -> None:
    asked = season(inches("50.5"))
    now = changed(asked, Change("post_length", ("h0",), inches("50.5"), inches("50.25")))
    assert now.houses[0].spec.post_depth == asked.houses[0].spec.post_depth - inches("0.25")
    assert changed(asked, Change("post_length", (), inches("50.5"), inches("50.25"))) == asked


def test_houses_with_the_same_post_change_together() -> None:
    asked = season(inches("50.5"), inches("50.5"), inches("62"))
    posts = {one.change.houses for one in near_misses(asked, plan_season(asked)) if one.change.field == "post_length"}
    assert ("h0", "h1") in posts and posts <= {("h0", "h1"), ("h2",)}


@pytest.mark.parametrize("seed", range(sized(6, 60)))
def test_no_single_post_length_saves_more_than_what_is_found(seed: int) -> None:
    """Against every mark of the tape within what posts may give, each planned in full."""
    rng = random.Random(seed)
    lengths = [inches(Decimal(rng.randrange(36 * 16, 72 * 16)) / 16) for _ in range(rng.choice([1, 1, 2]))]
    sticks = rng.choice([(feet(21),), (feet(21), feet(24)), (feet(10), feet(21))])
    lots = (Lot("L-1", "rail-1-5-8", feet(21), rng.randrange(1, 4), Decimal("30"), "Rack"),) if seed % 3 == 0 else ()
    asked = season(*lengths, lots=lots, sticks=sticks)
    before = plan_season(asked)
    step, most = TAPE_STEP[UnitSystem.IMPERIAL], BY_FIELD["post_length"].most.imperial
    best = ZERO
    for house in asked.houses:
        old = house.spec.post_length
        for n in range(1, int(most / step) + 1):
            after = plan_season(changed(asked, Change("post_length", (house.ref,), old, old - n * step)))
            if (one := saving(Change("post_length", (house.ref,), old, old - n * step), before, after)) is not None:
                best = max(best, one.saved)
    found = [one.saved for one in savings(asked, before) if one.change.field == "post_length"]
    assert max(found, default=ZERO) >= best


def test_the_same_season_gives_the_same_advice() -> None:
    asked = season(inches("50.5"), inches("41"))
    assert savings(asked, plan_season(asked)) == savings(asked, plan_season(asked))


def test_what_comes_late_or_is_missing_is_no_saving() -> None:
    asked = season(inches("50.5"))
    none = replace(asked, offers=tuple(o for o in asked.offers if o.material != "rail-1-5-8"))
    assert [one for one in savings(none, plan_season(none)) if one.change.field == "post_length"] == []


@pytest.mark.parametrize(("lost", "late", "pays"), [("19.99", 0, True), ("20", 0, False), ("0", 1, False)])
def test_ten_less_to_pay_is_worth_less_than_twenty_of_leftovers_and_no_day(lost: str, late: int, pays: bool) -> None:
    """Leftovers count half."""
    plan = plan_season(season(inches("50.5")))
    first, *others = plan.orders
    line = replace(first.lines[0], late_days=first.lines[0].late_days + late)
    cheaper = replace(first, total=first.total - 10, lines=(line, *first.lines[1:]))
    after = replace(plan, orders=(cheaper, *others), leftover_value=plan.leftover_value - Decimal(lost))
    assert (saving("it", plan, after) is not None) == pays


def test_a_filling_of_the_yards_sticks_saves_no_more_often_than_there_are_sticks() -> None:
    """Two at 30.00, new ones at 34.00. A post is worth 34.00 / 4, five of them 42.50: 12.50 more than a stick of the
    yard, twice, and 8.50 more than a new one, for 26 posts five times."""
    asked = season(inches("50.5"), lots=(Lot("L-1", "rail-1-5-8", feet(21), 2, Decimal("30"), "Rack"),))
    found = [one for one in near_misses(asked, plan_season(asked)) if one.change.field == "post_length"]
    assert max(one.worth for one in found) == Decimal("42.5")


def test_the_values_of_pieces_are_the_dual_of_the_program() -> None:
    """By hand: sticks of 10 cost 10; a piece of 6 and one of 4 fill a stick, so both are worth 10."""
    stock = [Stock(10, None, 10, "s")]
    values = piece_values([Piece(6, 5, ""), Piece(4, 5, "")], stock)
    assert values[6] + values[4] == 10
    assert piece_values([Piece(11, 1, "")], stock) == {}


def test_pieces_just_too_long_for_a_stick_are_found() -> None:
    """5 pieces of 21 want 105 of a stick of 100: each 1 shorter, they go in. 4 fill it, so one is worth 10 / 4."""
    stock = Stock(100, None, 10, "s")
    values = piece_values([Piece(21, 40, "")], [stock])
    assert values == {21: Decimal("2.5")}
    (found,) = overfull(values, {21: 40}, stock, kerf=0, give={21: 1})
    assert found.counts == ((21, 5),) and found.over == 5 and found.gain == Decimal("2.5")
    assert list(overfull(values, {21: 40}, stock, kerf=0, give={})) == []


def test_the_last_cut_of_an_overfull_stick_may_run_off_its_end() -> None:
    """Five of 21 and four cuts of 2 between them are 113: 13 too long for a stick of 100."""
    stock = Stock(100, None, 10, "s")
    values = piece_values([Piece(21, 40, "")], [stock], kerf=2)
    (found,) = overfull(values, {21: 40}, stock, kerf=2, give={21: 3})
    assert (found.counts, found.over) == (((21, 5),), 13)


def test_every_field_that_gives_is_a_length_of_a_house() -> None:
    from farmbuild.planning.house.fields import BY_NAME, FieldKind

    for give in BY_FIELD.values():
        for name in (give.field, *give.along, *give.beside):
            assert BY_NAME[name].kind is FieldKind.LENGTH
        assert give.caution.endswith(".") and BY_CODE


def test_a_lot_that_two_houses_take_of_is_that_much_smaller() -> None:
    """Of 9 sticks 3 go to one house and 4 to the other: 2 are left for small changes to count on."""
    asked = season(inches("50.5"), inches("50.5"), lots=(Lot("L-1", "rail-1-5-8", feet(21), 9, Decimal("30"), "Rack"),))
    plan = plan_season(asked)
    taken = tuple(
        Allocation("L-1", "Rack", "rail-1-5-8", feet(21), n, house.ref, "posts")
        for n, house in zip((3, 4), asked.houses, strict=True)
    )
    cuts = _cuts_of(asked, replace(plan, allocations=taken), BY_CODE)["rail-1-5-8"]
    assert [quantity for _, quantity, _ in cuts.sticks if quantity is not None] == [2]
