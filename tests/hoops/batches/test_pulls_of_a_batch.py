"""A batch begun before pulls were counted keeps every mark and its own judgement; a new one leaves marks off."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.bending_sheet import batch_bending_sheet
from farmbuild.hoops.batches.bridge import bend_of, judge_trial
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.mechanics import hoop_over
from tests.factories import FOOT, INCH, MaterialFactory, MembershipFactory, RecipeFactory
from tests.hoops.batches.making import PIPE, TARGET, make_bender, make_shop
from tests.reading import with_spaces

LEFT_OFF = "No mark at 9' 9\": it lies in the joint, which a bend would spoil."


@pytest.fixture
def shop(organisation, user):
    """The batch is of a recipe with marks every 18 in, the last of which lies in the joint."""
    made = make_shop(organisation, user)
    recipe = RecipeFactory(
        organisation=organisation, tube=made.batch.recipe.tube, radius=INCH * 79, pitch=INCH * 18, slug="every-18-in"
    )
    made.batch = services.create_batch(
        **made.who, recipe=recipe, bender=made.batch.bender, quantity=13, shares={},
        data={"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12},
    )  # fmt: skip
    return made


def begun_before(batch: HoopBatch) -> HoopBatch:
    HoopBatch.objects.filter(pk=batch.pk).update(by_pulls=False)
    batch.refresh_from_db()
    return batch


def test_a_new_batch_leaves_the_mark_off_and_says_so(signed_in, shop):
    sheet = batch_bending_sheet(shop.batch)
    assert [mark.own for mark in sheet.marks] == ['9"', "2' 3\"", "3' 9\"", "5' 3\"", "6' 9\"", "8' 3\""]
    assert LEFT_OFF in sheet.steps
    assert sheet.answer.startswith("12 pulls")
    for address in (shop.batch.get_absolute_url() + "sheet/", "/hoops/every-18-in/", "/hoops/every-18-in/sheet/"):
        assert LEFT_OFF in with_spaces(signed_in.get(address)).replace("&#x27;", "'").replace("&quot;", '"')


def test_a_batch_begun_before_keeps_its_marks(shop):
    sheet = batch_bending_sheet(begun_before(shop.batch))
    assert [mark.own for mark in sheet.marks][-1] == "9' 9\""
    assert sheet.answer == '14 pulls, each to a stop gap of 1", bend 2 sticks to a hoop 13\' 1 1/2" wide.'
    assert not any("No mark" in step for step in sheet.steps)


def test_the_sheet_says_how_far_it_may_be_sprung_in(shop):
    tube = shop.batch.recipe.tube
    assert "has no stated yield" in batch_bending_sheet(shop.batch).steps[-1]
    tube.yield_mpa = Decimal(345)
    tube.save()
    last = batch_bending_sheet(HoopBatch.objects.get(pk=shop.batch.pk)).steps[-1]
    assert last.startswith(
        "This hoop of 1-3/8 in rail springs back from at most 1' 9 3/16\". 1' to 2' is common practice"
    )


def test_part_pulls_stand_on_page_and_sheet(client, db):
    """Two 6 m sticks on 2,400: the legs take part pulls of 7.88 degrees, the fourteen others their full 11.94."""
    member = MembershipFactory(organisation__unit_system="metric")
    client.force_login(member.user)
    tube = MaterialFactory(organisation=member.organisation)
    sizes = {"stick_length": 6000, "insertion": 120, "radius": 2400, "first_mark": 250, "pitch": 500, "stop_gap": 25}
    recipe = RecipeFactory(organisation=member.organisation, tube=tube, slug="six-m",
                           **{name: Decimal(size) for name, size in sizes.items()})  # fmt: skip
    page = client.get(recipe.get_absolute_url()).context["page"]
    turns = [row.turn for row in page.pull_rows]
    assert (turns[0], turns[-1]) == ("7.88°", "7.88°")
    assert turns[1:7] == ["11.94°"] * 6
    assert sum(float(turn.rstrip("°")) for turn in turns) == pytest.approx(180, abs=0.1)
    assert float(page.free_span) == pytest.approx(4823.3, abs=0.1)
    words = (
        "Pull only part way: 7.9° at mark 5 of stick 1 (stop gap 60 mm) and 7.9° at mark 8 of stick 2 (stop gap 60 mm)."
    )
    sheet = client.get(recipe.get_absolute_url() + "sheet/").context["sheet"]
    for steps in (page.steps, sheet.steps):
        assert any(step.startswith(words) for step in steps)
    assert sheet.answer.startswith("16 pulls, 2 of them part way, the others to a stop gap of 25 mm")


def test_a_batch_begun_before_is_judged_as_it_was(shop):
    """By the arc of all its pipe: 157 1/2 in of 236 are 78.98 in of radius (SciPy, brentq)."""
    batch = begun_before(shop.batch)
    shop.issue(2)
    trial = shop.measure(TARGET)
    assert trial.verdict == "accepted"
    assert float(trial.effective_radius) == pytest.approx(hoop_over(float(PIPE), float(TARGET)).radius, abs=1e-5)
    assert float(trial.effective_radius / INCH) == pytest.approx(78.98, abs=0.01)
    judged = judge_trial(batch, trial)
    assert judged.target_radius == pytest.approx(float(trial.effective_radius), abs=1e-5)
    # The same measures of a new batch mean another radius: its pulls leave 20 in straight.
    HoopBatch.objects.filter(pk=batch.pk).update(by_pulls=True)
    batch.refresh_from_db()
    assert judge_trial(batch, trial).effective_radius / 25.4 == pytest.approx(74.4, abs=0.1)


def test_plain_conduit_has_no_swaged_end_to_start_from(signed_in, organisation, user):
    tube = MaterialFactory(organisation=organisation, swaged=False, width=INCH * Decimal("0.922"))
    recipe = RecipeFactory(
        organisation=organisation, tube=tube, sticks=1, insertion=Decimal(0), radius=INCH * 38, slug="low", name="Low"
    )
    batch = services.create_batch(
        organisation=organisation, user=user, recipe=recipe, bender=make_bender(organisation), quantity=5, shares={},
        data={"post_span": FOOT * 6, "spring_in": INCH * 4},
    )  # fmt: skip
    for address in ("/hoops/low/", "/hoops/low/sheet/", batch.get_absolute_url(), batch.get_absolute_url() + "sheet/"):
        page = signed_in.get(address).content.decode()
        assert "swaged end" not in page
        assert "marked end" in page
    assert "Paint one end of every stick: that is its marked end." in batch_bending_sheet(batch).steps[1]
    assert bend_of(batch).left_off == []


def test_the_form_of_a_recipe_names_no_swage(signed_in):
    page = signed_in.get("/hoops/new/").content.decode()
    assert "First mark from the end that goes in first" in page
    assert "First mark from the swaged end" not in page
