"""The second time: a plan that took common stock, and what then becomes of the request, the offer or the plan."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.coop.common.services import decline_wish, end_offer, give_wish, open_lot
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.plans.accepting import release_plan
from farmbuild.plans.changing.services import plan_change
from farmbuild.plans.house_changes import Kind, change_of
from farmbuild.plans.selectors import asked_of_common, changes_since
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.owners.services import hand_to_member
from tests.coop.common.test_plans import Farm, taken
from tests.factories import MemberFactory, MemberFarmFactory, MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm(organisation, user):
    return Farm(organisation, user)


def rails(farm):
    return CommonWish.objects.filter(offer__in=CommonOffer.objects.filter(lot=farm.offers[0].lot))


def again(farm, plan, days=1):
    return farm.plan(as_of=plan.as_of + timedelta(days=days))


def asked(farm):
    return sum(rails(farm).filter(state="open").values_list("quantity", flat=True))


def test_declined_it_says_so_and_the_next_plan_may_buy(farm, client):
    plan = farm.accept(farm.plan())
    for wish in rails(farm):
        decline_wish(**farm.coop(0), wish=wish, reason="Needed for the north house")
    coop = farm.links[0].organisation
    words = f"{coop} declined 30 of 1-3/8 rail, 10': Needed for the north house"
    assert [line.replace("\xa0", " ") for line in changes_since(plan=plan)] == [words]
    client.force_login(farm.user)
    page = text_of(client.get(reverse("plans:plan", args=[plan.number])))
    assert (
        "declined 30 of 1-3/8 rail" in page and "declined: Needed for the north house" in page and "Plan again" in page
    )
    # Nobody has it any more, and the cooperative shut it: all is bought.
    end_offer(**farm.coop(0), offer=farm.offers[0])
    later = again(farm, plan)
    assert "rail" not in taken(later)
    farm.accept(later)
    assert asked(farm) == 0 and changes_since(plan=later) == []


def test_while_the_offer_ends_its_pieces_stay_the_farms_in_the_next_plan_too(farm):
    plan = farm.accept(farm.plan())
    end_offer(**farm.coop(0), offer=farm.offers[0])
    assert changes_since(plan=plan) == [] and asked(farm) == 30
    later = again(farm, plan)
    assert taken(later)["rail"] == 30
    farm.accept(later)
    assert asked(farm) == 30 and CommonOffer.objects.get(pk=farm.offers[0].pk).wished == 30
    release_plan(**farm.who, plan=later)
    assert asked(farm) == 0
    # Now nobody keeps them, and nothing is open.
    with pytest.raises(ValidationError, match="not open to you at that price any more"):
        farm.accept(later)
    assert "rail" not in taken(again(farm, plan, 2))


def test_opened_smaller_no_more_is_taken_than_was_kept_and_is_open(farm):
    plan = farm.plan()
    end_offer(**farm.coop(0), offer=farm.offers[0])
    small = open_lot(**farm.coop(0), lot=farm.offers[0].lot, quantity=8, price=Decimal("9.50"))
    with pytest.raises(ValidationError, match="went meanwhile"):
        farm.accept(plan)
    later = farm.plan()
    assert taken(later)["rail"] == 8
    farm.accept(later)
    assert CommonOffer.objects.get(pk=small.pk).wished == 8


def test_opened_smaller_beside_what_is_kept(farm):
    plan = farm.accept(farm.plan())
    end_offer(**farm.coop(0), offer=farm.offers[0])
    Lot.objects.filter(pk=farm.offers[0].lot_id).update(on_hand=30)
    lot = Lot.objects.get(pk=farm.offers[0].lot_id)
    assert lot.free == 0
    with pytest.raises(ValidationError, match=r"Free of lot .*: 0 pieces"):
        open_lot(**farm.coop(0), lot=lot, quantity=8, price=Decimal("9.50"))
    assert taken(again(farm, plan))["rail"] == 30


def test_given_and_then_released_the_pieces_are_the_farms_to_plan_with(farm):
    plan = farm.accept(farm.plan())
    for wish in rails(farm):
        give_wish(**farm.coop(0), wish=wish)
    release_plan(**farm.who, plan=plan)
    lots = Lot.objects.of(farm.organisation).filter(place__name="From the cooperative")
    assert sum(lot.free for lot in lots) == 30 and not Reservation.objects.filter(lot__in=lots).exists()
    later = again(farm, plan)
    assert "rail" not in taken(later)
    assert {row.lot for row in later.snapshot()[1].allocations} >= {lot.reference for lot in lots}
    farm.accept(later)
    assert sum(lot.reserved for lot in lots.all()) == 30 and asked(farm) == 0


def test_given_after_the_plan_was_released_it_is_refused_in_words(farm):
    plan = farm.accept(farm.plan())
    wish = rails(farm).first()
    release_plan(**farm.who, plan=plan)
    with pytest.raises(ValidationError, match="withdrawn already"):
        give_wish(**farm.coop(0), wish=wish)
    assert asked_of_common(plan=plan) == []


def at_once(*presses):
    """What each says, all begun at one moment."""
    barrier = Barrier(len(presses))

    def press(call):
        barrier.wait()
        try:
            call()
        except ValidationError as error:
            return " ".join(error.messages)
        finally:
            connection.close()
        return "done"

    with ThreadPoolExecutor(len(presses)) as pool:
        return list(pool.map(press, presses))


@pytest.mark.django_db(transaction=True)
def test_accepted_while_the_manager_hands_the_same_pieces_to_another():
    one = MembershipFactory()
    farm = Farm(one.organisation, one.user)
    coop, other = farm.links[0].organisation, MemberFactory(organisation=farm.links[0].organisation)
    plan = farm.plan()
    said = at_once(
        lambda: farm.accept(plan),
        lambda: hand_to_member(**farm.coop(0), lot=farm.offers[0].lot, quantity=5, member=other),
    )
    lot = Lot.objects.get(pk=farm.offers[0].lot_id)
    assert sorted(word == "done" for word in said) == [False, True], said
    assert (lot.on_hand, lot.promised) in ((30, 30), (25, 0)), said
    assert asked(farm) == lot.promised and coop.pk == lot.organisation_id


@pytest.mark.django_db(transaction=True)
def test_planned_again_and_released_while_the_manager_gives():
    one = MembershipFactory()
    farm = Farm(one.organisation, one.user)
    plan = farm.accept(farm.plan())
    later = again(farm, plan)
    wishes = [*rails(farm)]
    said = at_once(lambda: farm.accept(later), lambda: [give_wish(**farm.coop(0), wish=wish) for wish in wishes])
    given = sum(rails(farm).filter(state="given").values_list("quantity", flat=True))
    assert any(word == "done" for word in said), said
    assert given + asked(farm) == 30, said
    wish = rails(farm).filter(state="open").first()
    if wish:
        at_once(lambda: release_plan(**farm.who, plan=later), lambda: give_wish(**farm.coop(0), wish=wish))
        wish.refresh_from_db()
        assert wish.state in ("given", "withdrawn")
    lot = Lot.objects.get(pk=farm.offers[0].lot_id)
    got = Lot.objects.of(farm.organisation).filter(place__name="From the cooperative")
    assert lot.on_hand + sum(row.on_hand for row in got) == 30
    assert lot.promised == asked(farm)


@pytest.mark.django_db(transaction=True)
def test_two_members_accept_the_last_pieces_at_once():
    one, two = MembershipFactory(), MembershipFactory()
    farm, second = Farm(one.organisation, one.user, rails=4), Farm(two.organisation, two.user)
    for offer in second.offers:
        end_offer(organisation=offer.organisation, user=None, offer=offer)
    MemberFarmFactory(member=MemberFactory(organisation=farm.links[0].organisation), farm=second.organisation)
    plans = [farm.plan(), second.plan()]
    assert [taken(plan)["rail"] for plan in plans] == [4, 4]
    said = at_once(lambda: farm.accept(plans[0]), lambda: second.accept(plans[1]))
    assert sorted(word == "done" for word in said) == [False, True], said
    assert any("went meanwhile" in word for word in said) and asked(farm) == 4
    loser = second if said[0] == "done" else farm
    assert "rail" not in taken(loser.plan())


def test_the_page_of_changes_names_what_is_asked_for_and_withdrawn(farm, client):
    """30 of 32 sticks are asked for of one cooperative; now the other has some too."""
    old = farm.accept(farm.plan())
    before = farm.wished()
    farm.open(1, "rail", 20, "10.25")
    other = str(farm.links[1].organisation)
    plan = plan_change(**farm.who, house=farm.season.houses[0], as_of=old.as_of + timedelta(days=1)).plan
    assert plan.from_common
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    more = taken(plan)["rail"] - 30
    [row] = [row for row in change_of(plan=plan).rows if row.kind in (Kind.ASK, Kind.WITHDRAW)]
    assert (row.kind, row.quantity, row.money, row.supplier) == (Kind.ASK, more, more * Decimal("10.25"), other)
    client.force_login(farm.user)
    page = text_of(client.get(reverse("plans:change", args=[plan.number])))
    assert "more of common stock: asked for" in page and f"${row.money:.2f} more to ask for" in page
    file = client.get(reverse("plans:change-file", args=[plan.number]))
    told = [cells for cells in load_workbook(BytesIO(file.content)).active.values if cells[5] == other]
    assert [(cells[3], cells[4]) for cells in told] == [(more, "more of common stock: asked for")]
    without = create_plan(**farm.season.ask(farm.user)).plan
    work_out_plan(without.pk)
    without.refresh_from_db()
    less = {row.material: row.quantity for row in change_of(plan=without).rows if row.kind is Kind.WITHDRAW}
    assert less == before
    assert "withdrawn" in text_of(client.get(reverse("plans:change", args=[without.number])))
