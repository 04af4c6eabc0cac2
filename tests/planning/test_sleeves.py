"""Plain tube joined by sleeves, in hoops and purlins: what fits, what is bought, and that no length is lost."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.drawn import drawn_house
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.recipes import check_recipe, left_off_words
from farmbuild.planning.house.shape import bend_recipe, house_shape, recipe_length
from farmbuild.planning.house.spec import HouseSpec, Joint, Recipe
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import InHouse, Lot
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.season.plan import plan_season
from farmbuild.planning.season.snapshot import season_from_json, season_to_json
from farmbuild.planning.work.counting import count_work
from farmbuild.planning.work.knowing import sleeve_words, to_know
from tests.planning.seasons import BY_CODE, MATERIALS, OFFERS, TWELVE, feet, house, inches, offer, season

ZERO = Decimal(0)


def mm(value: float | str) -> Decimal:
    return Decimal(str(value))


def tube(code: str, od: str, wall: str | None, *, swaged: bool = False) -> Material:
    return Material(code, code.replace("-", " "), Kind.TUBE, mm(od), wall and mm(wall), swaged=swaged)


#: Invented for the tests; sizes as such tubes are sold.
PLAIN = (
    tube("t-42", "42.4", "2"),
    tube("t-38", "38", "2"),
    tube("t-33", "33.7", "2"),
    tube("t-48", "48.3", "2.6"),
    tube("t-25", "25", "1.5"),
    tube("t-384", "38.4", "2"),
    tube("t-383", "38.3", "2"),
    tube("t-unknown", "30", None),
    Material("conduit", "1 in conduit", Kind.TUBE, inches("1.163"), inches("0.057")),
    Material("small-conduit", "3/4 in conduit", Kind.TUBE, inches("0.922"), inches("0.049")),
)
CODES = BY_CODE | {material.code: material for material in PLAIN}
METRIC, IMPERIAL = UnitSystem.METRIC, UnitSystem.IMPERIAL
#: Two 6 m sticks; marks that bend up to the sleeve.
SIX = Recipe(
    "8 m", "t-42", mm(6000), 2, ZERO, mm(4400), mm(400), mm(500), mm(25), Joint.INNER, "t-38", mm(300), sleeve_screws=4
)
CONDUIT = Recipe(
    "10 ft", "conduit", feet(10), 2, ZERO, inches(76), inches(15), inches(18), inches(1),
    Joint.INNER, "small-conduit", inches(12),
)  # fmt: skip
METRIC_HOUSE = HouseSpec(
    post_span=mm(8000),
    length=mm(20_000),
    spacing_wanted=mm(2000),
    recipe=SIX,
    purlin_material="t-33",
    purlin_stick_length=mm(6000),
    purlin_joint=Joint.OUTER,
    purlin_sleeve_material="t-42",
    purlin_sleeve_length=mm(250),
    ridge_purlins=1,
    side_purlins=2,
    screw_material="screw",
    screws_per_joint=1,
)
CONDUIT_HOUSE = HouseSpec(
    post_span=feet(12),
    length=feet(48),
    spacing_wanted=feet(4),
    recipe=CONDUIT,
    screw_material="screw",
    screws_per_joint=1,
)


def refused(recipe: Recipe) -> dict[str, str]:
    return {problem.part: problem.message for problem in check_recipe(recipe, CODES, METRIC)}


def rows_of(spec: HouseSpec, units: UnitSystem = METRIC) -> dict[str, TakeoffRow]:
    assert check_spec(spec, CODES, units) == []
    return {row.purpose: row for row in take_off(house("h", spec), CODES, units)}


class TestHoops:
    def test_a_metric_house_buys_a_sleeve_for_each_joint_and_loses_no_pipe(self) -> None:
        rows = rows_of(METRIC_HOUSE)
        assert recipe_length(SIX) == 12_000
        assert (rows["hoops"].quantity, rows["hoops"].length) == (22, 6000)
        sleeves = rows["hoop sleeves"]
        assert (sleeves.material, sleeves.length, sleeves.quantity, sleeves.whole) == ("t-38", 300, 11, False)
        assert "11 hoops x 1 joint = 11, a sleeve of 300 mm at each" in sleeves.working
        # 11 joints of hoops x 4, and (20,000 / 6,000 rounded up less 1) x 3 runs = 9 of purlins x 2.
        assert rows["joint screws"].quantity == 11 * 4 + 9 * 2
        assert rows["joint screws"].working == "11 joints in hoops x 4 + 9 joints in purlins x 2 = 62 screws"

    def test_a_house_of_plain_conduit_in_feet(self) -> None:
        rows = rows_of(CONDUIT_HOUSE, IMPERIAL)
        assert recipe_length(CONDUIT) == feet(20)
        assert rows["hoop sleeves"].quantity == 13
        assert rows["joint screws"].quantity == 26
        work = {row.kind.value: row for row in count_work(house("h", CONDUIT_HOUSE), CODES, IMPERIAL)}
        assert (work["saw"].count, work["join"].count) == (13, 13)
        assert work["join"].working == "13 hoops x 1 joint = 13, each by inner sleeve"

    def test_one_stick_has_no_joint_whatever_is_chosen(self) -> None:
        for joint in Joint:
            recipe = replace(SIX, sticks=1, joint=joint, radius=mm(2200))
            assert check_recipe(recipe, CODES, METRIC) == []
            assert bend_recipe(recipe) == bend_recipe(replace(recipe, joint=Joint.SWAGE))
            spec = replace(METRIC_HOUSE, recipe=recipe, post_span=mm(4000), ridge_purlins=0, side_purlins=0)
            assert {"hoop sleeves", "joint screws"}.isdisjoint(rows_of(spec))

    def test_marks_near_the_sleeve_are_left_off_in_words(self) -> None:
        words = left_off_words(bend_recipe(replace(SIX, first_mark=mm(250))), METRIC)
        assert words == (
            "No mark at 250 mm and 5\u202f750 mm: they would bend the end that has to stay straight for the sleeve."
            " A first mark at 400 mm bends up to the sleeve."
        )
        words = left_off_words(bend_recipe(SIX), METRIC)
        assert words == "No mark at 5\u202f900 mm: it would bend the end that has to stay straight for the sleeve."

    @given(
        sticks=st.integers(1, 4),
        stick=st.integers(2500, 7000),
        sleeve=st.integers(100, 600),
        units=st.sampled_from(UnitSystem),
    )
    def test_all_that_is_bought_stands_in_the_hoops(
        self, sticks: int, stick: int, sleeve: int, units: UnitSystem
    ) -> None:
        recipe = replace(SIX, sticks=sticks, stick_length=mm(stick), sleeve_length=mm(sleeve), first_mark=mm(600))
        spec = replace(METRIC_HOUSE, recipe=recipe, post_span=mm(int(stick * sticks * 0.75)))
        rows = {row.purpose: row for row in take_off(house("h", spec), CODES, units)}
        assert rows["hoops"].length is not None
        assert rows["hoops"].length * rows["hoops"].quantity == 11 * recipe_length(recipe)
        bought = rows["hoop sleeves"].quantity if "hoop sleeves" in rows else 0
        assert bought == 11 * (sticks - 1)

    def test_who_joins_is_told_how_the_sleeve_goes_on(self) -> None:
        shape = house_shape(METRIC_HOUSE)
        inner = sleeve_words(SIX, METRIC)
        assert inner == "Each joint has a sleeve of 300 mm: slide 150 mm into one stick, then butt the next against it."
        assert "150 mm over one stick" in sleeve_words(replace(SIX, joint=Joint.OUTER), METRIC)
        assert (
            sleeve_words(replace(SIX, sticks=1), METRIC) == sleeve_words(replace(SIX, joint=Joint.SWAGE), METRIC) == ""
        )
        told = to_know(WorkKind.JOIN, shape, joined=True, units=METRIC, sleeve=inner)
        assert told[0] == inner
        assert inner not in to_know(WorkKind.SET, shape, joined=True, units=METRIC, sleeve=inner)

    def test_the_section_has_each_sleeve_at_its_joint(self) -> None:
        drawn = drawn_house(house_context(METRIC_HOUSE, CODES, METRIC))
        (place,) = drawn.sleeves
        assert place.points[2] == pytest.approx((0, float(drawn.shape.ridge_height)), abs=1e-6), "at the crown"
        (x1, _), (x2, _) = place.points[0], place.points[-1]
        assert (x1, x2) == pytest.approx((-150, 150), abs=1)
        assert (
            drawn_house(
                house_context(replace(METRIC_HOUSE, recipe=replace(SIX, joint=Joint.SWAGE)), CODES, METRIC)
            ).sleeves
            == ()
        )


class TestWhatFits:
    def test_what_does_not_fit_is_refused_by_name_with_both_figures(self) -> None:
        message = refused(replace(SIX, sleeve_material="t-384"))["sleeve_material"]
        assert message == (
            "The sleeve does not fit: t 42 is 38.4 mm wide inside, and t 384 38.4 mm outside."
            " Choose another tube for the sleeve."
        )
        outer = replace(SIX, joint=Joint.OUTER, sleeve_material="t-38")
        assert "t 38 is 34 mm wide inside, and t 42 42.4 mm outside" in refused(outer)["sleeve_material"]
        assert refused(replace(SIX, joint=Joint.OUTER, sleeve_material="t-48")) == {}

    @pytest.mark.parametrize(
        ("sleeve", "said"),
        [
            ("t-38", ""),
            ("t-383", "tight: t 42 is 38.4 mm wide inside, t 383 38.3 mm outside. The play is 0.1 mm"),
            ("t-33", ""),
            ("t-25", "loose: t 42 is 38.4 mm wide inside, t 25 25 mm outside. The play is 13.4 mm; up to 6.4 mm"),
        ],
    )
    def test_what_is_loose_or_tight_is_told(self, sleeve: str, said: str) -> None:
        spec = replace(METRIC_HOUSE, recipe=replace(SIX, sleeve_material=sleeve))
        assert check_spec(spec, CODES, METRIC) == []
        told = [row.message for row in spec_remarks(spec, CODES, METRIC) if "sleeve of the hoops" in row.message]
        assert bool(told) == bool(said)
        assert said in "".join(told)

    def test_a_tube_of_unknown_size_is_told(self) -> None:
        for recipe in (replace(SIX, joint=Joint.OUTER, sleeve_material="t-unknown"), replace(SIX, tube="t-unknown")):
            told = [row.message for row in spec_remarks(replace(METRIC_HOUSE, recipe=recipe), CODES, METRIC)]
            assert any("cannot be checked: the catalogue lacks a size" in message for message in told)

    @pytest.mark.parametrize(
        ("changed", "field", "words"),
        [
            ({"insertion": mm(100)}, "insertion", "A sleeve loses no length, so no stick slides in by 100 mm."),
            ({"tube": "rail-1-3-8"}, "tube", "1-3/8 top rail has a swaged end, which takes no sleeve."),
            ({"sleeve_material": ""}, "sleeve_material", "joined by a sleeve of no tube"),
            ({"sleeve_material": "gone"}, "sleeve_material", "There is no material with the code 'gone'."),
            ({"sleeve_material": "screw"}, "sleeve_material", "joint screw is fastener"),
            ({"sleeve_length": ZERO}, "sleeve_length", "joined by a sleeve of no length"),
            ({"sleeve_length": mm(6000)}, "sleeve_length", "no shorter than the stick of 6\u202f000 mm"),
            ({"sleeve_screws": 13}, "sleeve_screws", "Type 0 to 12."),
            ({"joint": Joint.NONE}, "joint", "The hoop is of 2 sticks that nothing joins."),
            ({"joint": "glue"}, "joint", "'glue' is none of the choices."),
            ({"joint": Joint.SWAGE}, "tube", "join by a sleeve, or type 1 stick"),
        ],
    )
    def test_each_slip_is_told_at_its_field(self, changed: dict[str, object], field: str, words: str) -> None:
        told = refused(replace(SIX, **changed))
        assert set(told) == {field}
        assert words in told[field]


class TestPurlins:
    def test_runs_lose_no_length(self) -> None:
        rows = rows_of(METRIC_HOUSE)
        ridge, sides = rows["ridge purlins"], rows["side purlins"]
        assert (ridge.quantity, ridge.trim, ridge.slide) == (4, 4000, 0)
        assert sides.quantity == 8
        words = "20\u202f000 mm / 6\u202f000 mm, rounded up, is 4 sticks with 3 joints that lose no length"
        assert ridge.working.startswith(words)
        sleeves = rows["purlin sleeves"]
        assert (sleeves.material, sleeves.length, sleeves.quantity) == ("t-42", 250, 9)

    @pytest.mark.parametrize(
        ("changed", "field"),
        [
            ({"purlin_insertion": mm(50)}, "purlin_insertion"),
            ({"purlin_material": "rail-1-3-8", "purlin_sleeve_material": "t-48"}, "purlin_material"),
            ({"purlin_sleeve_material": ""}, "purlin_sleeve_material"),
            ({"purlin_sleeve_material": "t-33"}, "purlin_sleeve_material"),
            ({"purlin_sleeve_length": ZERO}, "purlin_sleeve_length"),
            ({"purlin_sleeve_length": mm(6000)}, "purlin_sleeve_length"),
            ({"purlin_joint": Joint.NONE}, "purlin_joint"),
            ({"purlin_joint": Joint.SWAGE}, "purlin_material"),
            ({"screw_material": ""}, "screw_material"),
        ],
    )
    def test_each_slip_is_told_at_its_field(self, changed: dict[str, object], field: str) -> None:
        assert {row.field for row in check_spec(replace(METRIC_HOUSE, **changed), CODES, METRIC)} == {field}

    def test_no_joint_is_chosen_where_a_stick_is_as_long_as_the_house(self) -> None:
        spec = replace(METRIC_HOUSE, length=mm(6000), purlin_joint=Joint.NONE)
        assert "purlin sleeves" not in rows_of(spec)

    def test_a_loose_sleeve_is_told(self) -> None:
        spec = replace(METRIC_HOUSE, purlin_sleeve_material="t-48")
        (told,) = [row for row in spec_remarks(spec, CODES, METRIC) if row.field == "purlin_sleeve_material"]
        assert "loose: t 48 is 43.1 mm wide inside" in told.message

    def test_screws_of_sleeves_alone_want_a_screw(self) -> None:
        spec = replace(METRIC_HOUSE, screws_per_joint=0, screw_material="")
        assert [row.field for row in check_spec(spec, CODES, METRIC)] == ["screw_material"]
        none = replace(spec, purlin_sleeve_screws=0, recipe=replace(SIX, sleeve_screws=0))
        assert check_spec(none, CODES, METRIC) == []


class TestStaggered:
    spec = replace(METRIC_HOUSE, purlin_first_stick=mm(3000))

    def test_every_second_run_starts_with_a_sawn_stick(self) -> None:
        """Side, ridge, side: the ridge is the second. 3,000 and then 17,000 of 6,000 sticks: 3, with 3 joints."""
        rows = rows_of(self.spec)
        assert "ridge purlins" not in rows
        assert rows["side purlins"].quantity == 8
        assert (rows["staggered purlins"].quantity, rows["staggered purlins"].run) == (3, 17_000)
        assert (rows["first sticks of purlins"].length, rows["first sticks of purlins"].quantity) == (3000, 1)
        assert rows["purlin sleeves"].quantity == 2 * 3 + 3

    @pytest.mark.parametrize(
        ("ridge", "sides", "staggered", "left"),
        [
            (1, 2, 1, (0, 2)),
            (1, 4, 2, (1, 2)),
            (1, 6, 3, (0, 4)),
            (0, 2, 1, (0, 1)),
            (0, 4, 2, (0, 2)),
            (1, 0, 0, (1, 0)),
        ],
    )
    def test_which_runs_these_are(self, ridge: int, sides: int, staggered: int, left: tuple[int, int]) -> None:
        rows = rows_of(replace(self.spec, ridge_purlins=ridge, side_purlins=sides))
        assert sum(row.quantity for row in rows.values() if row.purpose == "first sticks of purlins") == staggered
        found = tuple(rows[name].quantity // 4 if name in rows else 0 for name in ("ridge purlins", "side purlins"))
        assert found == left

    @given(first=st.integers(250, 5999), length=st.integers(6100, 40_000), sides=st.sampled_from([0, 2, 4]))
    def test_each_run_is_as_long_as_the_house(self, first: int, length: int, sides: int) -> None:
        spec = replace(self.spec, purlin_first_stick=mm(first), length=mm(length), side_purlins=sides)
        rows = [row for row in take_off(house("h", spec), CODES, METRIC) if row.material == "t-33"]
        made = sum(((row.length or ZERO) * row.quantity - row.trim * row.trims for row in rows), ZERO)
        assert made == length * (1 + sides)

    @pytest.mark.parametrize(
        "changed",
        [
            {"purlin_first_stick": mm(249)},
            {"purlin_first_stick": mm(6000)},
            {"purlin_material": "rail-1-3-8", "purlin_joint": Joint.SWAGE, "purlin_insertion": mm(100)},
        ],
    )
    def test_what_staggers_nothing_is_told(self, changed: dict[str, object]) -> None:
        told = check_spec(replace(self.spec, **changed), CODES, METRIC)
        assert [row.field for row in told] == ["purlin_first_stick"]

    def test_where_one_stick_makes_a_run_nothing_is_staggered(self) -> None:
        assert "staggered purlins" not in rows_of(replace(self.spec, length=mm(6000)))

    def test_the_plan_cuts_and_buys_them(self) -> None:
        plan = TestPlan().plan(spec=self.spec)
        assert plan.unmet == ()
        cut = [piece for row in plan.layouts for piece in row.pieces if piece.purpose == "first sticks of purlins"]
        assert [piece.length for piece in cut] == [3000]
        (balance,) = (row for row in plan.balances if row.material == "t-33")
        assert balance.used == 3 * 20_000


class TestPlan:
    offers = (
        *OFFERS,
        offer("pipe", "t-42", mm(6000), {1: "30.00"}),
        offer("pipe", "t-38", mm(6000), {1: "24.00"}),
        offer("pipe", "t-33", mm(6000), {1: "20.00"}),
        offer("pipe", "t-33", mm(3000), {1: "30.00"}),
    )

    def plan(self, *lots: Lot, spec: HouseSpec = METRIC_HOUSE, in_house: tuple[InHouse, ...] = ()):
        asked = season(
            house("h", spec), lots=lots, materials=(*MATERIALS, *PLAIN), offers=self.offers, in_house=in_house
        )
        assert season_from_json(season_to_json(asked)) == asked
        return plan_season(asked)

    def test_sleeves_are_cut_of_sticks_that_are_bought(self) -> None:
        plan = self.plan()
        assert plan.unmet == ()
        cut = [layout for layout in plan.layouts if layout.material == "t-38"]
        pieces = [piece for layout in cut for piece in layout.pieces for _ in range(layout.times)]
        assert [(piece.length, piece.purpose) for piece in pieces] == [(mm(300), "hoop sleeves")] * 11
        bought = {(line.material, line.length): line.quantity for order in plan.orders for line in order.lines}
        assert bought["t-38", mm(6000)] == 1
        assert bought["t-42", mm(6000)] == 22 + 1, "the sticks of the hoops, and one for the sleeves of the purlins"
        balance = next(row for row in plan.balances if row.material == "t-38")
        assert balance.used == 3300 and balance.stock + balance.bought == sum(
            (balance.used, balance.kerf, balance.leftover, balance.scrap), ZERO
        )

    def test_other_sticks_of_a_run_take_other_sleeves_and_screws(self) -> None:
        """21 sticks of 3 m in the yard make 3 runs of 7, which is 6 joints each, not 3."""
        plan = self.plan(Lot("LOT-1", "t-33", mm(3000), 21, Decimal(1), "Rack"))
        rows = {row.purpose: row for row in plan.takeoff}
        assert rows["side purlins"].length == 3000
        assert rows["purlin sleeves"].quantity == 18
        assert rows["purlin sleeves"].working.endswith("the sticks taken for runs make 9 joints more: +9")
        assert rows["joint screws"].quantity == 62 + 9 * 2
        cut = [layout.times for layout in plan.layouts for piece in layout.pieces if piece.purpose == "purlin sleeves"]
        assert sum(cut) == 18

    def test_sleeves_that_the_house_has_are_not_bought_again(self) -> None:
        had = InHouse("h", "t-38", mm(300), 11, "hoop sleeves")
        plan = self.plan(in_house=(had,))
        assert not [layout for layout in plan.layouts if layout.material == "t-38"]
        assert [(row.purpose, row.quantity) for row in plan.already_there] == [("hoop sleeves", 11)]

    def test_a_run_of_yard_sticks_and_bought_ones_knows_whose_end_is_sawn_off(self) -> None:
        spec = replace(METRIC_HOUSE, side_purlins=0)
        plan = self.plan(Lot("LOT-1", "t-33", mm(2500), 1, Decimal(1), "Rack"), spec=spec)
        sticks = {row.length: row.quantity for row in plan.takeoff if row.purpose == "ridge purlins"}
        assert sticks == {mm(6000): 3, mm(2500): 1}
        (balance,) = (row for row in plan.balances if row.material == "t-33")
        kerf = inches("0.125")
        assert (balance.used, balance.kerf, balance.scrap) == (20_000, kerf, 500 - kerf)


def test_stored_before_there_were_sleeves_reads_as_a_swage() -> None:
    stored = season_to_json(season(house("h", TWELVE)))
    (spec,) = (row["spec"] for row in stored["season"]["houses"])
    for name in [name for name in spec if name.startswith(("purlin_joint", "purlin_sleeve", "purlin_first"))]:
        del spec[name]
    for name in ("joint", "sleeve_material", "sleeve_length", "sleeve_screws"):
        del spec["recipe"][name]
    assert season_from_json(stored) == season(house("h", TWELVE))
