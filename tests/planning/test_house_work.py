"""The counted work of a house against sums done by hand, and order against its own definition."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import product
from statistics import median as plain_median

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.own_rows import OwnRow, Per
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.work.cautions import OF_WORK
from farmbuild.planning.work.counting import (
    BY_LENGTH,
    USES,
    WorkCount,
    count_work,
    duration_words,
    in_units_of,
    minutes_on_site,
)
from farmbuild.planning.work.order import Wait, circle_in, in_order, waits_for, without
from farmbuild.planning.work.sawing import is_sawn
from farmbuild.planning.work.standard import RATES, STEPS, WAITS, gate_problem, spread_of, standard_rate
from tests.planning.seasons import BY_CODE, LOW, TWELVE, TWENTY, feet, house, inches

K = WorkKind


def counts(spec: HouseSpec, units: UnitSystem = UnitSystem.IMPERIAL) -> dict[WorkKind, WorkCount]:
    return {row.kind: row for row in count_work(house("h", spec), BY_CODE, units)}


class TestTwelveByFortyEight:
    """Two 10 ft sticks a hoop, marks from 9 in every 18 in, hoops every 4 ft."""

    @pytest.mark.parametrize(
        ("kind", "count"),
        [
            # 48 / 4 = 12 bays, 13 hoops, 2 feet each.
            (K.SURVEY, 26),
            (K.POSTS, 26),
            # 26 posts, 4 braces. Front wall: 2 sills, 2 studs, 2 door posts, header, short stud, and a leaf of 5; back
            # wall: sill and 5 studs. Boards of 16 ft and purlins of 5 sticks, 48 ft long, are left whole.
            (K.SAW, 26 + 4 + 13 + 6),
            # 13 x 2 sticks.
            (K.MARK, 26),
            # Marks at 9, 27, 45, 63, 81, 99, 117 in of 120: 7 a stick. 234 in of pipe is less than the half circle
            # of pi x 78 = 245 in, so no mark lies on a straight leg: 14 pulls a hoop.
            (K.TRIAL, 12),
            # 12 hoops more x 14.
            (K.BEND, 144),
            # One joint a hoop.
            (K.JOIN, 13),
            (K.SET, 13),
            (K.SIGHT, 13),
            # 3 purlins of 5 sticks (5 x 120 - 4 x 6 = 576 in), and 4 braces.
            (K.RIDGE, 19),
            # A row on each side, 48 ft each.
            (K.HIP, 96),
            (K.BASE, 96),
            (K.ANCHORS, 8),
        ],
    )
    def test_counts(self, kind: WorkKind, count: int) -> None:
        assert counts(TWELVE)[kind].count == count

    def test_film_and_channel(self) -> None:
        # Film 48 + 2 x 2 = 52 ft, and 2 end walls of 12 + 2 x 2 = 16 ft: 84. Channel 4 x 48 = 192 ft along and
        # 2 x 234 in = 39 ft over the end hoops: 231. Together 315.
        assert counts(TWELVE)[K.FILM].count == 315

    def test_pieces_of_the_end_walls_are_those_of_the_takeoff(self) -> None:
        rows = take_off(house("h", TWELVE), BY_CODE, UnitSystem.IMPERIAL)
        # The front leaf alone: 2 uprights and 3 rails.
        assert sum(row.quantity for row in rows if row.purpose == "front doors") == 5
        expected = sum(row.quantity for row in rows if "end wall" in row.purpose and "film" not in row.purpose) + 5
        assert counts(TWELVE)[K.ENDS].count == expected

    def test_the_working_has_the_numbers_in(self) -> None:
        assert "2 sticks x 6 marks = 12 pulls a hoop: 12 x 12 = 144" in counts(TWELVE)[K.BEND].working
        assert counts(TWELVE)[K.HIP].working.startswith("2 rows over both sides x 48'")

    def test_boards_and_film_are_metres_for_a_metric_reader(self) -> None:
        """2 x 48 ft are 29.26 m; 315 ft at most are 96.01 m."""
        metric, feet_ = counts(TWELVE, UnitSystem.METRIC), counts(TWELVE)
        assert (metric[K.HIP].count, metric[K.HIP].words) == (30, "30 metres of board")
        assert metric[K.HIP].working.endswith("= 30 m, full metres")
        assert 96 <= metric[K.FILM].count <= 97
        assert metric[K.FILM].words.endswith("metres of film and channel")
        # All else is counted, whatever it is measured in.
        assert {kind: row.count for kind, row in metric.items() if kind not in BY_LENGTH} == {
            kind: row.count for kind, row in feet_.items() if kind not in BY_LENGTH
        }
        assert {K.HIP, K.BASE, K.FILM} == BY_LENGTH

    def test_a_minute_a_foot_is_so_much_a_metre(self) -> None:
        for kind in WorkKind:
            metre = in_units_of(Decimal("2.5"), kind, UnitSystem.IMPERIAL, UnitSystem.METRIC)
            assert metre == (Decimal("8.20") if kind in BY_LENGTH else Decimal("2.5"))
            assert in_units_of(metre, kind, UnitSystem.METRIC, UnitSystem.IMPERIAL) == Decimal("2.5")
            own = standard_rate(kind, UnitSystem.METRIC)
            near = metre if kind in BY_LENGTH else RATES[kind].each
            assert abs(own.each - near) <= Decimal("0.2") and own.once == RATES[kind].once

    def test_lengths_of_the_working_are_the_reader_s(self) -> None:
        assert "mm" in counts(TWELVE, UnitSystem.METRIC)[K.HIP].working


def test_twenty_by_seventy_two() -> None:
    found = counts(replace(TWENTY, length=feet(72)))
    # 72 / 4 = 18 bays, 19 hoops; three sticks of 6 marks are 18 pulls, the mark at 117 in being left off in the joint;
    # 348 in is less than pi x 126 = 396 in.
    assert [found[kind].count for kind in (K.POSTS, K.MARK, K.TRIAL, K.BEND, K.JOIN)] == [38, 57, 18, 18 * 18, 38]
    assert found[K.HIP].count == 144


def test_marks_on_straight_legs_are_no_pulls() -> None:
    # Bent at 60 in, the half circle is 188.5 in of the pipe's 234. The marks at 9, 27 ... 99 in bend 0 to 108 and,
    # 114 in on, 114 to 222 in. Within w of the middle, 117 in, lie 2 w - 6 in of that, so w is 97.2 in: from 19.8 in,
    # by the second mark, to 214.2 in, by the last. So the first alone lies on a leg.
    tight = replace(TWELVE, recipe=replace(TWELVE.recipe, radius=inches(60)))
    found = counts(tight)[K.TRIAL]
    assert found.count == 11
    assert "less 1 mark on straight legs" in found.working


def test_a_low_tunnel_has_no_joints_posts_boards_or_ends() -> None:
    found = counts(LOW)
    none = {kind for kind, row in found.items() if not row.count}
    assert none == {K.SAW, K.POSTS, K.JOIN, K.RIDGE, K.HIP, K.BASE, K.ENDS, K.ANCHORS}
    assert all(found[kind].working for kind in none)


def test_what_a_house_has_none_of_is_said() -> None:
    bare = counts(replace(LOW, film_layers=0))
    assert {kind: row.working for kind, row in bare.items() if not row.count} == {
        K.SAW: "Every piece of the house is a whole stick.",
        K.POSTS: "The house has no ground posts.",
        K.JOIN: "Each hoop is one stick, so nothing is joined.",
        K.RIDGE: "The house has no purlins and no corner braces.",
        K.HIP: "The house has none.",
        K.BASE: "The house has none.",
        K.ENDS: "The house has no framed end walls.",
        K.FILM: "The house has no film and no channel.",
        K.ANCHORS: "The house has no anchors.",
    }


def test_boards_and_film_are_counted_in_full_feet() -> None:
    """2 rows of 48 ft 1 in are 96 ft 2 in; film of 48 ft 1 in and 2 x 3 ft is sawn at 54 ft 1 in."""
    assert counts(replace(TWELVE, length=feet(48, 1)))[K.HIP].count == 97
    assert counts(replace(TWELVE, length=feet(48, 1), hip_board_material=""))[K.HIP].count == 0
    assert counts(replace(LOW, length=feet(48, 1)))[K.FILM].count == 55
    assert counts(replace(LOW, length=feet(48)))[K.FILM].count == 54


def test_every_purpose_of_a_takeoff_belongs_to_some_work() -> None:
    known = frozenset().union(*USES.values())
    for spec in (LOW, TWELVE, TWENTY):
        assert {row.purpose for row in take_off(house("h", spec), BY_CODE, UnitSystem.IMPERIAL)} <= known


class TestSawing:
    def test_the_working_names_material_and_length(self) -> None:
        words = counts(TWELVE)[K.SAW].working
        assert words.startswith("1-5/8 post tube, 30: 4 of 8', 26 of 4'; 2x4, 19: ")
        assert words.endswith("; 12 pieces as long as a stick: no cut")

    def test_an_end_too_long_takes_a_cut_a_run(self) -> None:
        """6 x 120 - 5 x 6 = 690 in for 600: sawn off each of 3 runs; 12 bays of 50 in are spliced by threes, 150 in."""
        longer = replace(TWELVE, length=feet(50))
        bare = replace(longer, hip_board_material="", base_board_material="")
        found = counts(bare)[K.SAW]
        # 50 / 4 = 12.5, so 13 bays and 14 hoops: two posts more.
        assert found.count == 49 + 2 + 3
        assert "3 ends of joined purlins, one a run" in found.working
        assert counts(longer)[K.SAW].count > found.count

    def test_a_piece_of_one_stick_is_cut_only_where_it_is_shorter(self) -> None:
        runs = replace(TWELVE, purlin_stick_length=feet(48))
        assert counts(runs)[K.SAW].count == 49
        assert counts(replace(runs, purlin_stick_length=feet(50)))[K.SAW].count == 49 + 3

    def test_rows_of_ones_own_are_cut_with_the_rest(self) -> None:
        own = OwnRow(material="lumber-2x4", quantity=Decimal(3), per=Per.END, length=feet(3), step="ends")
        found = counts(replace(TWELVE, own_rows=(own,)))[K.SAW]
        assert found.count == 49 + 2 * 3
        assert "6 of 3'" in found.working
        assert not {"own rows", "own rows, end walls"} & USES[K.SAW]

    def test_film_and_channel_are_not_sawn_ahead(self) -> None:
        bare = replace(TWELVE, film_layers=0, channel_runs=0, channel_on_ends=False)
        assert counts(bare)[K.SAW] == counts(TWELVE)[K.SAW]

    def test_nothing_that_uses_sawn_pieces_starts_before_it(self) -> None:
        purposes = {purpose: kinds for part in PARTS for purpose, kinds in part.purposes.items()}
        # The trial hoop is joined before all are sawn, so sleeves may be sawn where they join.
        assert purposes.pop("hoop sleeves") == (K.SAW, K.TRIAL, K.JOIN)
        users = {kind for kinds in purposes.values() if K.SAW in kinds for kind in kinds}
        assert users - {K.SAW} == {K.POSTS, K.SET, K.RIDGE, K.HIP, K.BASE, K.ENDS}
        assert all(waits_for(kind, K.SAW, WAITS) for kind in users - {K.SAW})

    @pytest.mark.parametrize("spec", [LOW, TWELVE, TWENTY, replace(TWENTY, length=feet(50))])
    def test_it_waits_for_all_that_is_sawn(self, spec: HouseSpec) -> None:
        rows = take_off(house("h", spec), BY_CODE, UnitSystem.IMPERIAL)
        assert {row.purpose for row in rows if row.trims or is_sawn(row, BY_CODE)} <= USES[K.SAW]


class TestMinutes:
    def test_by_hand(self) -> None:
        # 168 pulls x 2 + 30 = 366 person-minutes, shared by 2: 183, so 3 h 15 min.
        assert minutes_on_site(168, Decimal(2), Decimal(30), 2) == 195
        words = duration_words(168, Decimal(2), Decimal(30), 2)
        assert words == (
            "168 x 2 + 30 = 366 person-minutes; shared by 2: 183 minutes; rounded up to quarter hours: 195"
        )

    def test_a_whole_quarter_stays(self) -> None:
        assert minutes_on_site(10, Decimal("4.5"), Decimal(0), 1) == 45
        assert minutes_on_site(0, Decimal(3), Decimal(0), 1) == 0

    @given(st.integers(0, 5000), st.decimals(0, 500, places=2), st.decimals(0, 500, places=2), st.integers(1, 50))
    def test_least_quarter_that_is_enough(self, count: int, each: Decimal, once: Decimal, people: int) -> None:
        minutes = minutes_on_site(count, each, once, people)
        assert minutes % 15 == 0
        assert (minutes - 15) * people < count * each + once <= minutes * people


class TestOrder:
    def test_the_standard_steps_are_every_kind_once_and_in_order(self) -> None:
        kinds = [step.kind for step in STEPS]
        assert sorted(kinds) == sorted(WorkKind)
        assert set(RATES) == set(WorkKind)
        assert set(OF_WORK) >= set(WorkKind)
        assert in_order(kinds, WAITS) == kinds

    def test_the_trial_hoop_holds_up_all_that_is_made_of_hoops(self) -> None:
        for kind in (K.BEND, K.JOIN, K.SET, K.SIGHT, K.RIDGE, K.HIP, K.BASE, K.ENDS, K.ANCHORS, K.FILM):
            assert waits_for(kind, K.TRIAL, WAITS)
        assert not waits_for(K.POSTS, K.TRIAL, WAITS)

    def test_the_gate_has_to_stay(self) -> None:
        assert gate_problem(list(WorkKind), WAITS) == ""
        assert "has to wait" in gate_problem(list(WorkKind), [wait for wait in WAITS if wait.step != K.BEND])
        assert "Keep the step Trial hoop" in gate_problem([K.MARK, K.BEND], [Wait(K.BEND, K.MARK)])
        assert gate_problem([K.SURVEY], []) == ""

    def test_film_comes_last(self) -> None:
        assert all(waits_for(K.FILM, kind, WAITS) for kind in WorkKind if kind != K.FILM)

    def test_what_waited_for_a_dropped_step_waits_for_what_it_waited_for(self) -> None:
        waits = [Wait("join", "bend", 30), Wait("set", "join", 15), Wait("set", "posts", 600)]
        assert set(without(waits, ["join"])) == {Wait("set", "bend", 45), Wait("set", "posts", 600)}

    def test_the_longer_of_two_ways_counts(self) -> None:
        waits = [Wait("c", "b", 5), Wait("b", "a", 5), Wait("c", "a", 60)]
        assert without(waits, ["b"]) == (Wait("c", "a", 60),)
        # Where nothing else is said, a step may start as soon as the one before it is done.
        assert without([Wait("c", "b"), Wait("b", "a", 5)], ["b"]) == (Wait("c", "a", 5),)

    def test_a_circle_is_named(self) -> None:
        waits = [Wait("a", "b"), Wait("b", "c"), Wait("c", "a"), Wait("d", "a")]
        circle = circle_in(waits)
        assert sorted(circle) == ["a", "b", "c"]
        pairs = {(wait.step, wait.after) for wait in waits}
        assert all(pair in pairs for pair in zip(circle, (*circle[1:], circle[0]), strict=True))
        with pytest.raises(ValueError, match="circle"):
            in_order("abcd", waits)
        with pytest.raises(ValueError, match="circle"):
            without(waits, ["d"])


@st.composite
def orders(draw: st.DrawFn) -> tuple[list[str], list[Wait]]:
    """Up to 8 steps; each waits for some of those before it."""
    steps = [chr(ord("a") + n) for n in range(draw(st.integers(1, 8)))]
    waits = []
    for n, step in enumerate(steps):
        for after in draw(st.sets(st.sampled_from(steps[:n]))) if n else ():
            waits.append(Wait(step, after, draw(st.integers(0, 1000))))
    return draw(st.permutations(steps)), draw(st.permutations(waits))


def longest(waits: list[Wait], steps: list[str]) -> dict[tuple[str, str], int]:
    """The longest lag over any way from one step back to another, by trying all middles (Floyd, Warshall)."""
    far = {(wait.step, wait.after): wait.lag for wait in waits}
    for middle, step, after in product(sorted(steps), repeat=3):
        if (step, middle) in far and (middle, after) in far:
            over = far[step, middle] + far[middle, after]
            far[step, after] = max(over, far.get((step, after), 0))
    return far


@given(orders(), st.data())
def test_dropping_steps_keeps_order_and_lags_of_the_rest(
    case: tuple[list[str], list[Wait]], data: st.DataObject
) -> None:
    steps, waits = case
    gone = data.draw(st.sets(st.sampled_from(steps)))
    left = without(waits, gone)
    kept = [step for step in steps if step not in gone]
    before = {pair: lag for pair, lag in longest(waits, steps).items() if not gone & set(pair)}
    assert longest(list(left), kept) == before
    order = in_order(kept, left)
    assert sorted(order) == sorted(kept)
    assert all(order.index(after) < order.index(step) for step, after in before)


@given(orders(), st.data())
def test_a_wait_turned_round_is_found_as_a_circle(case: tuple[list[str], list[Wait]], data: st.DataObject) -> None:
    _, waits = case
    assert circle_in(waits) == ()
    if not waits:
        return
    turned = data.draw(st.sampled_from(waits))
    circle = circle_in([*waits, Wait(turned.after, turned.step)])
    assert {turned.step, turned.after} <= set(circle)


@given(st.lists(st.tuples(st.decimals(0, 10_000, places=2), st.integers(0, 500)), max_size=30))
@example([(Decimal(0), 5), (Decimal(30), 0), (Decimal(30), 10)])
@example([(Decimal(0), 5)])
def test_the_spread_of_records(work: list[tuple[Decimal, int]]) -> None:
    each = [float(minutes) / units for minutes, units in work if minutes > 0 and units > 0]
    spread = spread_of(work)
    if not each:
        assert spread is None
        return
    assert spread is not None
    assert spread.records == len(each)
    assert float(spread.lowest) == pytest.approx(min(each), abs=0.006)
    assert float(spread.highest) == pytest.approx(max(each), abs=0.006)
    assert float(spread.median) == pytest.approx(plain_median(each), abs=0.012)
