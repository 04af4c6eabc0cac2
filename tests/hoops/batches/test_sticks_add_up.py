"""Whatever happens to a batch in whatever order, no stick comes or goes unseen."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import BatchSticks
from farmbuild.hoops.batches.selectors import latest_trial, sticks_for, unbent_sticks
from farmbuild.sites.models import House
from tests.factories import FOOT, INCH, HouseFactory, MembershipFactory, SiteFactory
from tests.hoops.batches.making import TARGET, Shop, make_shop
from tests.size import examples

pytestmark = pytest.mark.django_db

RACK, HOOPS, EACH = 60, 5, 2
OVER, WIDE = INCH * 140, TARGET + INCH * 2 + INCH / 2
ACTS = (
    "issue", "return", "over", "wide", "good", "again over", "again good", "fresh over", "fresh good", "accept",
    "accept outside",
    "write off", "write off trial", "bend", "spoil", "miscounted", "finish",
)  # fmt: skip


class Count:
    """The sticks as a person at the bender counts them, from what was done alone."""

    def __init__(self) -> None:
        self.rack, self.loose, self.trial, self.bent, self.scrap = RACK, 0, 0, 0, 0

    def take(self, act: str, number: int) -> None:
        if act == "issue":
            self.rack, self.loose = self.rack - number, self.loose + number
        elif act == "return":
            self.rack, self.loose = self.rack + number, self.loose - number
        elif act in ("over", "wide", "good", "again over", "again good"):
            self.loose, self.trial = self.loose - (EACH - self.trial), EACH
        elif act in ("fresh over", "fresh good"):
            new = max(0, EACH - self.loose)
            self.scrap, self.rack = self.scrap + self.trial, self.rack - new
            self.loose, self.trial = self.loose + new - EACH, EACH
        elif act in ("accept", "accept outside"):
            self.trial, self.bent = 0, self.bent + EACH
        elif act == "write off":
            self.loose, self.scrap = self.loose - number, self.scrap + number
        elif act == "write off trial":
            self.trial, self.scrap = self.trial - number, self.scrap + number
        elif act == "bend":
            self.loose, self.bent = self.loose - number * EACH, self.bent + number * EACH
        elif act == "spoil":
            self.bent, self.scrap = self.bent - number * EACH, self.scrap + number * EACH
        elif act == "miscounted":
            self.bent, self.loose = self.bent - number * EACH, self.loose + number * EACH


def do(shop: Shop, act: str, number: int) -> None:
    trial = latest_trial(batch=shop.now())
    spans = {"over": OVER, "wide": WIDE, "good": TARGET}
    if act == "issue":
        shop.issue(number)
    elif act == "return":
        services.return_sticks(**shop.on, lot=shop.lot, quantity=number)
    elif act in spans:
        shop.measure(spans[act], same_sticks=None)
    elif act.startswith("again "):
        shop.measure(spans[act.removeprefix("again ")], same_sticks=True)
    elif act.startswith("fresh "):
        shop.measure(spans[act.removeprefix("fresh ")], same_sticks=False, lot=shop.lot)
    elif act.startswith("accept"):
        reason = "The posts take it." if act == "accept outside" else ""
        services.accept_trial(**shop.on, trial=_there(trial), reason=reason)
    elif act == "write off":
        services.write_off_sticks(**shop.on, quantity=number, reason="kinked")
    elif act == "write off trial":
        services.write_off_sticks(**shop.on, quantity=number, reason="kinked", trial=_there(trial))
    elif act == "bend":
        services.record_bent(**shop.on, hoops=number)
    elif act in ("spoil", "miscounted"):
        services.take_back_hoops(**shop.on, hoops=number, reason="kinked", spoilt=act == "spoil")
    else:
        services.finish_batch(**shop.on, short=True)


def _there(trial):
    if trial is None:
        raise ValidationError("No trial hoop is measured.")
    return trial


def found(shop: Shop, house: House) -> dict[str, int]:
    """The sticks as the record has them; scrap and bent as the rows say, the house as the balance of plans sees it."""
    batch = shop.now()
    shop.lot.refresh_from_db()
    moved = BatchSticks.objects.filter(batch=batch).aggregate(sum=Sum("movement__quantity"))["sum"] or 0
    assert batch.sticks_issued == -moved
    assert shop.lot.on_hand == (shop.lot.movements.aggregate(sum=Sum("quantity"))["sum"] or 0)
    in_house = sum(row.sticks for row in sticks_for(houses=[house.pk]))
    assert in_house == min(HOOPS * EACH, batch.sticks_issued - batch.sticks_spoilt)
    return {
        "rack": shop.lot.on_hand,
        "scrap": batch.spoilt.aggregate(sum=Sum("sticks"))["sum"] or 0,
        "bent": batch.hoops_bent * EACH,
        "loose": unbent_sticks(batch=batch),
        "out": batch.sticks_issued,
    }


def drive(shop: Shop, house: House, acts: Sequence[tuple[str, int]]) -> list[str]:
    """Do one after the other, compare after each; gives those that were not refused."""
    count, done = Count(), []
    for act, number in acts:
        try:
            do(shop, act, number)
        except ValidationError:
            pass
        else:
            count.take(act, number)
            done.append(act)
        have = found(shop, house)
        assert have["rack"] + have["out"] == RACK
        assert (have["rack"], have["scrap"], have["bent"]) == (count.rack, count.scrap, count.bent)
        assert have["loose"] == count.loose
        assert have["rack"] + have["scrap"] + have["bent"] + count.loose + count.trial == RACK
        assert min(count.loose, count.trial, count.bent, count.scrap) >= 0
    assert shop.now().hoops_bent <= HOOPS
    return done


def a_shop() -> tuple[Shop, House]:
    """A batch of five hoops for a house that takes them all."""
    member = MembershipFactory()
    shop = make_shop(member.organisation, member.user)
    site = SiteFactory(organisation=member.organisation)
    house = HouseFactory(site=site, recipe=shop.batch.recipe, post_span=FOOT * 12)
    shop.batch = services.create_batch(
        **shop.who, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=HOOPS, shares={house: HOOPS},
        data={"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12},
    )  # fmt: skip
    return shop, house


WAYS = (
    "issue 2, over, write off trial 1, issue 1, again over, fresh over, again good, accept, issue 4, write off 1,"
    " issue 3, bend 2, spoil 1, miscounted 1, bend 1, return 1, return 1, finish",
    "issue 2, over, write off trial 2, issue 2, wide, accept outside, issue 8, bend 4, spoil 4, finish",
    "issue 2, wide, fresh good, accept, finish, spoil 1, issue 4, bend 2, finish",
    "issue 2, write off 1, issue 1, return 2, issue 2, good, again good, accept",
)


@pytest.mark.parametrize("way", WAYS)
def test_the_ways_that_a_shop_goes(way):
    words = [step.rsplit(" ", 1) if step[-1].isdigit() else (step, "1") for step in way.split(", ")]
    acts = [(act.strip(), int(number)) for act, number in words]
    assert drive(*a_shop(), acts) == [act for act, _ in acts]
    assert {act for act, _ in acts} <= set(ACTS)


@settings(examples(60), suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(acts=st.lists(st.tuples(st.sampled_from(ACTS), st.integers(1, 4)), max_size=24), proven=st.booleans())
def test_on_hand_in_the_house_and_scrap_are_what_there_was(acts, proven):
    begin = [("issue", 2), ("good", 1), ("accept", 1), ("issue", 4)] if proven else [("issue", 2), ("over", 1)]
    assert drive(*a_shop(), [*begin, *acts])[: len(begin)] == [act for act, _ in begin]
