"""A batch begun before pulls were counted keeps every mark and its own judgement; a new one leaves marks off."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.bending_sheet import batch_bending_sheet
from farmbuild.hoops.batches.bridge import bend_of, judge_trial
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.mechanics import hoop_over
from tests.factories import FOOT, INCH, MaterialFactory, RecipeFactory
from tests.hoops.batches.making import PIPE, TARGET, make_bender, make_shop

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
        assert LEFT_OFF in signed_in.get(address).content.decode().replace("&#x27;", "'").replace("&quot;", '"')


def test_a_batch_begun_before_keeps_its_marks(shop):
    sheet = batch_bending_sheet(begun_before(shop.batch))
    assert [mark.own for mark in sheet.marks][-1] == "9' 9\""
    assert sheet.answer == '14 pulls, each to a stop gap of 1", bend 2 sticks to a hoop 13\' 1 1/2" wide.'
    assert not any("No mark" in step for step in sheet.steps)


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
