"""The gate, in the services and, with the services passed by, in the database."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import BatchSticks, BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.stock.models import CostShare, Movement
from tests.factories import FOOT, INCH, LotFactory
from tests.hoops.batches.making import TARGET, make_shop

pytestmark = pytest.mark.django_db


def held(work, words: str) -> None:
    """The database refuses ``work`` by the constraint or trigger named."""
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        work()


def test_before_proof_one_hoop_of_sticks_and_no_hoop(shop):
    with pytest.raises(ValidationError, match="gets the 2 sticks of one hoop, so 2 sticks more can be issued"):
        shop.issue(3)
    shop.issue(2)
    with pytest.raises(ValidationError, match="and they are issued"):
        shop.issue(1)
    with pytest.raises(ValidationError, match="No hoop of Batch 1 can be recorded before its trial hoop"):
        services.record_bent(**shop.on, hoops=1)
    with pytest.raises(ValidationError, match="no accepted trial hoop"):
        services.finish_batch(**shop.on)
    shop.lot.refresh_from_db()
    assert (shop.now().sticks_issued, shop.batch.hoops_bent, shop.lot.on_hand) == (2, 0, 58)


def test_a_bad_trial_keeps_the_gate_shut(shop):
    shop.issue(2)
    bad = shop.measure(INCH * 140)
    assert bad.verdict == "over-bent"
    with pytest.raises(ValidationError, match="not within the tolerance"):
        services.accept_trial(**shop.on, trial=bad)
    with pytest.raises(ValidationError, match="and they are issued"):
        shop.issue(2)
    services.write_off_sticks(**shop.on, quantity=2, reason="bent too far", trial=bad)
    shop.issue(2)
    with pytest.raises(ValidationError, match="and they are issued"):
        shop.issue(1)
    assert (shop.now().attempts, shop.batch.sticks_issued, shop.batch.sticks_spoilt) == (1, 4, 2)


def test_acceptance_opens_it(shop):
    shop.prove()
    assert (shop.now().state, shop.batch.hoops_bent) == ("proven", 1)
    shop.issue(24)
    services.record_bent(**shop.on, hoops=12)
    assert (shop.now().state, shop.batch.hoops_bent, shop.batch.sticks_issued) == ("bending", 13, 26)
    assert services.finish_batch(**shop.on).state == "done"


# Past the services.


def test_the_database_takes_no_hoop_before_proof(shop):
    shop.issue(2)
    held(lambda: BentHoops.objects.create(batch=shop.batch, hoops=1), "batch_gate_on_hoops")
    held(lambda: HoopBatch.objects.update(hoops_bent=1), "batch_gate_on_hoops|batch_sums_are_true")
    assert not BentHoops.objects.exists()


def moved(lot, kind, quantity):
    """Past the services, and shared out, as it has to be."""
    movement = Movement.objects.create(lot=lot, kind=kind, quantity=quantity)
    CostShare.objects.create(movement=movement, quantity=-quantity, amount=0)
    return movement


def test_the_database_takes_no_sticks_before_proof(shop):
    movement = moved(shop.lot, "issue", -3)
    held(lambda: BatchSticks.objects.create(batch=shop.batch, movement=movement), "batch_gate_on_sticks")
    held(lambda: HoopBatch.objects.update(sticks_issued=2), "batch_sums_are_true")
    held(lambda: HoopBatch.objects.update(sticks_a_hoop=40), "batch_stays_what_it_is")
    held(lambda: HoopBatch.objects.update(sticks_spoilt=40), "batch_sums_are_true|batch_bends_sticks_it_has")
    assert shop.now().sticks_issued == 0


@pytest.mark.parametrize("state", ["proven", "bending", "done"])
def test_the_database_knows_no_proof_without_a_trial(shop, state):
    held(lambda: HoopBatch.objects.update(state=state), "batch_proven_by_a_trial")


def test_the_database_asks_for_an_accepted_trial_of_this_very_batch(shop, organisation, user):
    shop.issue(2)
    bad = shop.measure(INCH * 140)
    held(lambda: TrialHoop.objects.filter(pk=bad.pk).update(accepted=True), "trial_accepted_with")
    held(lambda: HoopBatch.objects.update(state="proven", accepted_trial=bad), "batch_proven_by_its_own_trial")
    good = shop.measure(TARGET)
    held(lambda: HoopBatch.objects.update(state="proven", accepted_trial=good), "batch_proven_by_its_own_trial")
    services.accept_trial(**shop.on, trial=good)
    other = HoopBatch.objects.create(
        organisation=organisation, number=2, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=2,
        post_span=FOOT * 12, sticks_a_hoop=2, stop_gap=INCH,
    )  # fmt: skip
    rows = HoopBatch.objects.filter(pk=other.pk)
    held(lambda: rows.update(state="proven", accepted_trial=good), "batch_proven_by_its_own_trial|UNIQUE|unique")
    proven = HoopBatch.objects.filter(pk=shop.batch.pk)
    held(lambda: proven.update(state="trial", accepted_trial=None), "batch_gate|batch_stays_proven")


def test_a_batch_is_not_born_proven(shop, organisation):
    values = {
        "organisation": organisation, "number": 2, "recipe": shop.batch.recipe, "bender": shop.batch.bender,
        "quantity": 2, "post_span": FOOT * 12, "sticks_a_hoop": 2, "stop_gap": INCH,
    }  # fmt: skip
    for more in ({"hoops_bent": 1}, {"sticks_issued": 2}, {"attempts": 1}):
        held(lambda more=more: HoopBatch.objects.create(**values, **more), "batch_starts_empty|batch_gate|batch_bends")


def test_the_recipe_of_a_batch_stays(shop):
    """Else a hoop proven for one house would open the gate for another."""
    rows = type(shop.batch.recipe).objects.filter(pk=shop.batch.recipe.pk)
    for change in ({"radius": INCH * 90}, {"sticks": 3}, {"pitch": INCH * 12}):
        held(lambda change=change: rows.update(**change), "recipe_of_a_batch_stays")
    sleeve = {"sleeve_material": shop.batch.recipe.tube}
    for change in ({"joint": "inner sleeve"}, {"sleeve_length": INCH * 12}, sleeve):
        held(lambda change=change: rows.update(**change), "recipe_of_a_batch_stays_joined")
    assert rows.update(sleeve_screws=4) == 1
    assert rows.update(name="12 ft hoop of the yard") == 1


@pytest.mark.parametrize(
    "change",
    [{"free_span": TARGET}, {"rise": INCH * 70}, {"verdict": "accepted"}, {"attempt": 9}, {"effective_radius": INCH}],
)
def test_a_trial_hoop_is_kept_as_measured(shop, change):
    shop.issue(2)
    shop.measure(INCH * 140)
    held(lambda: TrialHoop.objects.update(**change), "trialhoop_never_edited|trial_judged_by_the_tolerance")


def test_an_acceptance_is_not_taken_back(shop):
    shop.prove()
    held(lambda: TrialHoop.objects.update(accepted=False), "trialhoop_never_edited")


def test_what_a_batch_recorded_is_kept(shop):
    shop.prove()
    shop.issue(3)
    services.write_off_sticks(**shop.on, quantity=1, reason="kinked")
    held(lambda: BentHoops.objects.update(hoops=F("hoops") + 1), "benthoops_never_edited")
    held(lambda: SpoiltSticks.objects.update(sticks=2), "spoiltsticks_never_edited")
    held(lambda: BatchSticks.objects.update(batch=shop.batch.pk), "batchsticks_never_edited")


def test_the_database_bends_only_sticks_that_a_batch_has(shop):
    shop.prove()
    held(lambda: BentHoops.objects.create(batch=shop.batch, hoops=1), "batch_bends_sticks_it_has")
    movement = moved(shop.lot, "return", 1)
    held(lambda: BatchSticks.objects.create(batch=shop.batch, movement=movement), "batch_bends_sticks_it_has")
    shop.issue(40)
    held(lambda: BentHoops.objects.create(batch=shop.batch, hoops=13), "batch_no_more_hoops_than_wanted")


def test_the_database_takes_issues_and_returns_of_the_same_organisation(shop):
    foreign = moved(LotFactory(), "issue", -1)
    scrapped = moved(shop.lot, "scrap", -1)
    for movement in (foreign, scrapped):
        held(
            lambda movement=movement: BatchSticks.objects.create(batch=shop.batch, movement=movement),
            "sticks_of_the_same_owner",
        )


def test_a_movement_of_a_batch_is_not_reversed_behind_its_back(shop):
    movement = shop.issue(2).movement
    held(
        lambda: Movement.objects.create(
            lot=shop.lot, kind="issue", quantity=2, amount=-movement.amount, reverses=movement
        ),
        "batch_movement_not_reversed",
    )


def test_spoilt_sticks_are_of_a_trial_of_the_same_batch(shop):
    from tests.factories import MembershipFactory

    member = MembershipFactory()
    other = make_shop(member.organisation, member.user)
    for each in (shop, other):
        each.issue(2)
    trial = other.measure(INCH * 140)
    held(
        lambda: SpoiltSticks.objects.create(batch=shop.batch, trial=trial, sticks=1, reason="x"),
        "spoilt_trial_of_the_same_batch",
    )
