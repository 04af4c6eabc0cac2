"""Which sticks a trial hoop is bent of: fresh ones out of stock, or those of the trial hoop before, pulled again."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import SpoiltSticks, TrialHoop
from farmbuild.plans.balance import balances
from tests.factories import FOOT, INCH, HouseFactory, LotFactory, SiteFactory
from tests.hoops.batches.making import TARGET

pytestmark = pytest.mark.django_db

OVER, UNDER = INCH * 140, INCH * 165


def on_hand(shop) -> int:
    shop.lot.refresh_from_db()
    return shop.lot.on_hand


def page(name: str, *args: object) -> str:
    return reverse(f"hoops:{name}", args=args)


def test_the_first_is_bent_of_fresh_sticks(shop):
    shop.issue(2)
    assert shop.measure(OVER).fresh_sticks == 2


@pytest.mark.parametrize("span", [OVER, UNDER, TARGET])
def test_the_next_waits_until_the_sticks_are_said(shop, span):
    shop.issue(2)
    shop.measure(span)
    with pytest.raises(ValidationError, match="Say which sticks it is bent of: the 2 sticks of trial hoop 1"):
        shop.measure(TARGET, same_sticks=None)
    assert (shop.now().attempts, on_hand(shop)) == (1, 58)


def test_the_same_sticks_pulled_again_take_nothing_from_stock(shop):
    shop.issue(2)
    shop.measure(OVER)
    good = shop.measure(TARGET, same_sticks=True)
    services.accept_trial(**shop.on, trial=good)
    assert (good.fresh_sticks, on_hand(shop), shop.now().sticks_spoilt, shop.batch.hoops_bent) == (0, 58, 0, 1)


def test_fresh_sticks_write_the_others_off_and_leave_the_stock_in_one_go(shop):
    """Two trial hoops of two sticks each: four are out of stock, two of them scrap."""
    shop.issue(2)
    shop.measure(OVER)
    good = shop.measure(TARGET, same_sticks=False, lot=shop.lot)
    services.accept_trial(**shop.on, trial=good)
    batch = shop.now()
    assert (on_hand(shop), batch.sticks_issued, batch.sticks_spoilt, batch.hoops_bent) == (56, 4, 2, 1)
    assert (good.fresh_sticks, SpoiltSticks.objects.get().reason) == (2, "Trial hoop 1: over-bent")
    assert [row.quantity for row in shop.lot.movements.filter(kind="issue").order_by("pk")] == [-2, -2]


def test_one_spoilt_stick_of_two_is_replaced_and_the_other_pulled_again(shop):
    shop.issue(2)
    bad = shop.measure(OVER)
    services.write_off_sticks(**shop.on, quantity=1, reason="kinked", trial=bad)
    shop.issue(1)
    assert shop.measure(TARGET, same_sticks=True).fresh_sticks == 1
    assert (on_hand(shop), shop.now().sticks_spoilt) == (57, 1)


def test_what_is_refused_leaves_nothing_behind(shop):
    shop.issue(2)
    shop.measure(OVER)
    one = LotFactory(material=shop.lot.material, on_hand=1)
    for said, says in (
        ({"same_sticks": False}, "Choose the lot that the fresh sticks come from, 2 in all"),
        ({"same_sticks": False, "lot": one}, "1"),
        ({"same_sticks": True, "seen": 0}, "Trial hoop 1 has been measured meanwhile"),
        ({"same_sticks": False, "lot": shop.lot, "rise": FOOT * 9}, "cannot rise more"),
    ):
        with pytest.raises(ValidationError, match=says):
            shop.measure(TARGET, **said)
    assert (shop.now().attempts, shop.batch.sticks_issued, on_hand(shop)) == (1, 2, 58)
    assert not SpoiltSticks.objects.exists()


def test_sticks_written_off_are_not_pulled_again(shop):
    shop.issue(2)
    bad = shop.measure(OVER)
    services.write_off_sticks(**shop.on, quantity=2, reason="kinked", trial=bad)
    shop.issue(2)
    with pytest.raises(ValidationError, match="are written off"):
        shop.measure(TARGET, same_sticks=True)
    assert shop.measure(TARGET, same_sticks=None).fresh_sticks == 2


def test_the_house_lacks_what_its_trial_hoop_spoilt(shop, organisation):
    """13 hoops of two sticks: 26 needed, two in the house; written off they are still to find."""
    site = SiteFactory(organisation=organisation)
    house = HouseFactory(site=site, recipe=shop.batch.recipe, post_span=FOOT * 12)
    services_of = {"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12}
    shop.batch = services.create_batch(
        **shop.who, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=13, shares={house: 13},
        data=services_of,
    )  # fmt: skip

    def row() -> tuple[int, int]:
        found = balances(organisation=organisation, houses=[house])[house.pk]
        [hoops] = [row for row in found.rows if row.purpose == "hoops"]
        assert hoops.needed == hoops.in_house + hoops.held + hoops.on_order + hoops.to_find == 26
        return int(hoops.in_house), int(hoops.to_find)

    shop.issue(2)
    bad = shop.measure(OVER)
    assert row() == (2, 24)
    services.write_off_sticks(**shop.on, quantity=2, reason="bent too far", trial=bad)
    assert row() == (0, 26)
    shop.issue(2)
    assert row() == (2, 24)
    shop.measure(OVER)
    shop.measure(TARGET, same_sticks=False, lot=shop.lot)
    assert row() == (2, 24)
    assert on_hand(shop) == 60 - 6


# Past the services.


def held(work, words: str) -> None:
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        work()


def raw(shop, attempt: int, fresh: int | None):
    return TrialHoop.objects.create(
        batch=shop.batch, attempt=attempt, free_span=TARGET, rise=INCH * 73, stop_gap=INCH, target_span=TARGET,
        verdict="accepted", effective_radius=INCH * 79, fresh_sticks=fresh,
    )  # fmt: skip


def test_the_database_knows_no_trial_hoop_of_sticks_that_are_not_there(shop):
    held(lambda: raw(shop, 1, 2), "trial_bent_of_sticks_it_has")
    shop.issue(2)
    for fresh in (None, 0, 1, 3):
        held(lambda fresh=fresh: raw(shop, 1, fresh), "trial_bent_of_sticks_it_has")
    first = raw(shop, 1, 2)
    held(lambda: raw(shop, 2, 2), "trial_bent_of_sticks_it_has")
    services.write_off_sticks(**shop.on, quantity=2, reason="bent too far", trial=first)
    held(lambda: raw(shop, 2, 2), "trial_bent_of_sticks_it_has")
    shop.issue(2)
    held(lambda: raw(shop, 2, 0), "trial_bent_of_sticks_it_has")
    raw(shop, 2, 2)
    held(lambda: TrialHoop.objects.filter(attempt=2).update(fresh_sticks=0), "trial_sticks_stay")
    held(lambda: TrialHoop.objects.filter(attempt=2).update(fresh_sticks=None), "trial_sticks_stay")


def test_the_database_spoils_no_stick_twice(shop):
    shop.issue(2)
    first = shop.measure(OVER)
    rows = SpoiltSticks.objects
    held(lambda: rows.create(batch=shop.batch, trial=first, sticks=3, reason="x"), "spoilt_sticks_of_the_last|bends")
    rows.create(batch=shop.batch, trial=first, sticks=2, reason="x")
    held(lambda: rows.create(batch=shop.batch, trial=first, sticks=1, reason="x"), "spoilt_sticks_of_the_last|bends")
    shop.issue(2)
    second = shop.measure(OVER, same_sticks=None)
    shop.measure(TARGET, same_sticks=True)
    held(lambda: rows.create(batch=shop.batch, trial=second, sticks=1, reason="x"), "spoilt_sticks_of_the_last")


# The page.


def measured(**changes) -> dict[str, str]:
    return {"free_span": "13' 1 1/2\"", "rise": "6' 1\"", "last_gap": "", "twist": "", "note": ""} | changes


def test_the_page_asks_and_keeps_what_was_typed(signed_in, shop):
    shop.issue(2)
    assert "sticks" not in signed_in.get(page("batch-trial", 1)).context["form"].fields
    shop.measure(OVER)
    shown = signed_in.get(page("batch-trial", 1))
    form = shown.context["form"]
    assert [label for _, label in form.fields["sticks"].choices] == [
        "The sticks of trial hoop 1, opened and pulled again",
        "Fresh sticks; those of trial hoop 1 are written off",
    ]
    assert form["sticks"].value() is None
    refused = signed_in.post(page("batch-trial", 1), measured(seen="1"))
    assert refused.context["form"].errors["sticks"] == ["Choose which sticks this trial hoop is bent of."]
    refused = signed_in.post(page("batch-trial", 1), measured(seen="1", sticks="fresh", lot=""))
    assert "Choose the lot" in refused.context["form"].errors["lot"][0]
    assert refused.context["form"]["free_span"].value() == "13' 1 1/2\""
    sent = signed_in.post(page("batch-trial", 1), measured(seen="1", sticks="fresh", lot=str(shop.lot.pk)))
    assert sent["Location"] == page("batch-attempt", 1, 2)
    assert "2 fresh sticks." in signed_in.get(sent["Location"]).content.decode()
    signed_in.post(page("batch-trial", 1), measured(seen="2", sticks="same"))
    shown = signed_in.get(page("batch-attempt", 1, 3)).content.decode()
    assert "2 of trial hoop 2, bent or measured again." in shown
    assert (on_hand(shop), shop.now().attempts) == (56, 3)


def test_under_bent_sticks_are_pulled_further_unless_said(signed_in, shop):
    shop.issue(2)
    shop.measure(UNDER)
    form = signed_in.get(page("batch-trial", 1)).context["form"]
    assert (form["sticks"].value(), form.fields["sticks"].choices[0][1]) == (
        "same", "The sticks of trial hoop 1, pulled further",
    )  # fmt: skip


def test_a_lot_of_others_is_no_choice(signed_in, shop):
    shop.issue(2)
    shop.measure(OVER)
    foreign = LotFactory()
    refused = signed_in.post(page("batch-trial", 1), measured(seen="1", sticks="fresh", lot=str(foreign.pk)))
    assert "lot" in refused.context["form"].errors
    assert shop.now().attempts == 1
