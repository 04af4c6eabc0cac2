"""What a house has already is taken out of what it needs, and nothing is lost or counted twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import InHouse
from farmbuild.planning.materials import Kind
from farmbuild.planning.netting.in_house import Covered, rows_to_trim, subtract_in_house
from farmbuild.planning.results import AlreadyThere, TakeoffRow
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import BUYER, BY_CODE, TWELVE, feet, house, inches, season
from tests.size import examples

RAIL, POST, BOARD, CHANNEL, FILM, BOLT = "rail-1-3-8", "rail-1-5-8", "lumber-2x4", "channel", "film-32", "bolt"
KERF = inches("0.125")
TEN = feet(10)


def sticks(quantity: int, purpose: str = "hoops", ref: str = "h") -> TakeoffRow:
    return TakeoffRow(ref, purpose, RAIL, TEN, quantity, "sticks", True, "")


def cuts(length: Decimal, quantity: int, material: str = BOARD, purpose: str = "front end wall") -> TakeoffRow:
    return TakeoffRow("h", purpose, material, length, quantity, "pieces", False, "")


def has(quantity: int, material: str = RAIL, length: Decimal | None = TEN, purpose: str = "", **more: bool) -> InHouse:
    return InHouse("h", material, length, quantity, purpose, **more)


def after(rows: list[TakeoffRow], *pieces: InHouse) -> Covered:
    return subtract_in_house(rows, pieces, BY_CODE, KERF)


def left(covered: Covered) -> list[tuple[str, Decimal | None, int]]:
    return [(row.purpose, row.length, row.quantity) for row in covered.rows]


def test_bent_hoops_are_not_bought_again() -> None:
    # 13 hoops of 2 sticks are bent; one hoop more is 2 sticks more.
    covered = after([sticks(28)], has(26, purpose="hoops", bent=True))
    assert left(covered) == [("hoops", TEN, 2)]
    assert covered.there == [AlreadyThere("h", "hoops", RAIL, TEN, 26)]
    assert covered.too_much == []


def test_a_house_that_shrinks_has_too_much() -> None:
    covered = after([sticks(20)], has(26, purpose="hoops", bent=True))
    assert covered.rows == []
    [more] = covered.too_much
    assert (more.quantity, more.purpose, more.bent) == (6, "hoops", True)


def test_pieces_serve_the_purpose_that_they_were_handed_out_for_first() -> None:
    rows = [sticks(4, "hoops"), sticks(4, "ridge purlins")]
    covered = after(rows, has(3, purpose="ridge purlins"), has(2))
    assert left(covered) == [("hoops", TEN, 2), ("ridge purlins", TEN, 1)]


def test_what_is_over_for_its_purpose_serves_another_unless_it_is_bent() -> None:
    rows = [sticks(4, "hoops"), sticks(4, "ridge purlins")]
    assert left(after(rows, has(6, purpose="ridge purlins"))) == [("hoops", TEN, 2)]
    assert left(after(rows, has(6, purpose="hoops", bent=True))) == [("ridge purlins", TEN, 4)]


def test_an_offcut_joins_nothing_but_is_cut() -> None:
    rows = [sticks(2), cuts(feet(4), 3, RAIL, "corner braces")]
    covered = after(rows, has(1, length=TEN, offcut=True))
    # Two braces of 4 ft and two saw cuts come out of 10 ft.
    assert left(covered) == [("hoops", TEN, 2), ("corner braces", feet(4), 1)]


def test_a_piece_that_reads_the_same_on_a_tape_serves() -> None:
    """Within half a sixteenth of an inch; a piece of the very length goes first to the row that wants it."""
    stud, shorter = inches("80.068298"), inches("80.05")
    typed = inches("80.0625")
    covered = after([cuts(stud, 2), cuts(shorter, 1)], has(2, BOARD, typed), has(1, BOARD, shorter))
    assert left(covered) == []
    assert [(row.length, row.quantity) for row in covered.there] == [(stud, 2), (shorter, 1)]
    assert after([cuts(stud, 1)], has(1, BOARD, stud - inches("0.03125"))).rows == []
    assert left(after([cuts(stud, 1)], has(1, BOARD, stud - inches("0.032")))) == [("front end wall", stud, 1)]


def test_a_piece_rounded_up_to_a_sixteenth_still_serves() -> None:
    """Earlier plans cut and held pieces up to a sixteenth of an inch longer than what is wanted."""
    post = Decimal(1500)
    rounded = inches("59.0625")
    assert 0 < rounded - post < inches("0.0625")
    covered = after([cuts(post, 34, POST, "ground posts")], has(34, POST, rounded, "ground posts"))
    assert (left(covered), covered.too_much) == ([], [])
    assert covered.there == [AlreadyThere("h", "ground posts", POST, post, 34)]


def test_only_cut_pieces_may_be_a_little_off() -> None:
    assert left(after([sticks(2)], has(2, RAIL, TEN + inches("0.02")))) == [("hoops", TEN, 2)]


def test_longer_boards_are_cut_down_with_the_saw_cut_between() -> None:
    # 8 ft less a saw cut is too short for a second 4 ft.
    assert left(after([cuts(feet(4), 2)], has(1, BOARD, feet(8)))) == [("front end wall", feet(4), 1)]
    assert left(after([cuts(feet(4), 2)], has(1, BOARD, feet(8) + KERF))) == []
    assert left(after([cuts(feet(4), 1)], has(1, BOARD, feet(4) - inches("0.03126")))) != []


def test_a_knife_takes_nothing_off_film() -> None:
    assert left(after([cuts(feet(20), 2, FILM, "film on the end walls")], has(1, FILM, feet(40)))) == []


def test_counted_things_are_counted() -> None:
    row = TakeoffRow("h", "board bolts", BOLT, None, 52, "each", True, "")
    covered = after([row], has(60, BOLT, None))
    assert covered.rows == [] and [more.quantity for more in covered.too_much] == [8]


def test_a_run_of_channel_that_is_there_in_part_wants_the_rest() -> None:
    row = cuts(feet(48), 2, CHANNEL, "channel along the house")
    covered = after([row], has(5, CHANNEL, feet(12)))
    assert left(covered) == [("channel along the house", feet(36), 1)]
    assert [(one.length, one.quantity) for one in covered.there] == [(feet(48), 1), (feet(12), 1)]
    assert after([row], has(9, CHANNEL, feet(12))).too_much[0].quantity == 1


def test_pieces_of_one_house_serve_no_other() -> None:
    covered = after([sticks(4, ref="h"), sticks(4, ref="other")], has(8, purpose="hoops"))
    assert [(row.house, row.quantity) for row in covered.rows] == [("other", 4)]
    assert covered.too_much[0].quantity == 4


ALL = take_off(house("h", TWELVE), BY_CODE, BUYER.units)


@st.composite
def handed_out(draw: st.DrawFn) -> list[InHouse]:
    """Any of what the house needs, some of it too long, some too much, with or without its purpose."""
    found = []
    for row in draw(st.lists(st.sampled_from(ALL), max_size=8)):
        longer = draw(st.sampled_from([0, 0, 1, 700])) if row.length and not row.whole else 0
        length = row.length and row.length + longer
        purpose = draw(st.sampled_from([row.purpose, "", "corner braces"]))
        found.append(InHouse("h", row.material, length, draw(st.integers(1, row.quantity + 3)), purpose))
    return found


def lengths(rows: list[TakeoffRow] | list[AlreadyThere] | tuple[TakeoffRow, ...]) -> Counter[tuple[str, str]]:
    sums: Counter[tuple[str, str]] = Counter()
    for row in rows:
        sums[row.purpose, row.material] += row.quantity * (1 if row.length is None else row.length)  # type: ignore[assignment]
    return +sums


@given(handed_out())
@examples(300)
def test_needed_is_there_and_still_wanted(pieces: list[InHouse]) -> None:
    covered = subtract_in_house(ALL, pieces, BY_CODE, KERF)
    assert lengths(covered.there) + lengths(covered.rows) == lengths(ALL)
    for material, kind in {(row.material, BY_CODE[row.material].kind) for row in ALL}:
        given_in = sum(p.quantity * (p.length or 1) for p in pieces if p.material == material)
        there = sum(n for (_, code), n in lengths(covered.there).items() if code == material)
        over = sum(p.quantity * (p.length or 1) for p in covered.too_much if p.material == material)
        # What is cut down or butted loses an end; nothing is won.
        assert there + over <= given_in
        if kind is Kind.FASTENER or kind is Kind.ANCHOR:
            assert there + over == given_in
    # What is over serves nothing that is still wanted in its length.
    wanted = {(row.material, row.length) for row in covered.rows}
    assert not [one for one in covered.too_much if not one.bent and (one.material, one.length) in wanted]


@given(handed_out(), handed_out())
@examples(100)
def test_more_in_the_house_is_never_more_to_buy_in_its_own_length(some: list[InHouse], more: list[InHouse]) -> None:
    exact = [row for row in ALL if row.whole]
    few = subtract_in_house(exact, some, BY_CODE, KERF)
    many = subtract_in_house(exact, [*some, *more], BY_CODE, KERF)
    assert sum(row.quantity for row in many.rows) <= sum(row.quantity for row in few.rows)


def test_a_house_that_has_everything_buys_nothing() -> None:
    given_in = replace(season(house("h", TWELVE)), lots=())
    pieces = tuple(InHouse("h", row.material, row.length, row.quantity, row.purpose) for row in ALL)
    plan = plan_season(replace(given_in, in_house=pieces))
    assert plan.orders == () and plan.shortfalls == () and plan.too_much == ()
    assert lengths(list(plan.already_there)) == lengths(ALL)
    assert plan_season(given_in).orders != ()


def test_a_plan_in_the_middle_of_the_work_buys_what_is_still_missing() -> None:
    given_in = replace(season(house("h", TWELVE)), lots=())
    hoops = next(row for row in ALL if row.purpose == "hoops")
    before = plan_season(given_in)
    after_bending = plan_season(
        replace(given_in, in_house=(InHouse("h", RAIL, hoops.length, hoops.quantity, "hoops", bent=True),))
    )

    def rail(plan: object) -> int:
        return sum(s.quantity for s in plan.shortfalls if s.material == RAIL and s.length == hoops.length)  # type: ignore[attr-defined]

    assert rail(before) - rail(after_bending) == hoops.quantity
    for balance in after_bending.balances:
        spent = balance.used + balance.kerf + balance.leftover + balance.scrap
        assert balance.stock + balance.bought == spent, balance.material


def test_ends_of_runs_that_stand_already_are_not_sawn_off_again() -> None:
    given_in = replace(season(house("h", replace(TWELVE, length=feet(44)))), lots=())
    before = rows_to_trim(plan_season(given_in))
    ridge = next(row for row in before if row.purpose == "ridge purlins")
    side = next(row for row in before if row.purpose == "side purlins")
    assert (ridge.trims, side.trims) == (1, 2)
    all_there = InHouse("h", RAIL, ridge.length, ridge.quantity, "ridge purlins")
    one_to_come = InHouse("h", RAIL, side.length, side.quantity - 1, "side purlins")
    after = rows_to_trim(plan_season(replace(given_in, in_house=(all_there, one_to_come))))
    assert [(row.purpose, row.quantity, row.trims) for row in after] == [("side purlins", 1, 1)]
