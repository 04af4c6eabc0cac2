"""A farm is a member no more while its plans count on common stock: free again, and told to both sides."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.urls import reverse

from farmbuild.coop.common.services import give_wish, wish_for, withdraw_wish
from farmbuild.coop.members.next_steps import next_steps
from farmbuild.coop.members.services import end_farm, leave
from farmbuild.coop.models import CommonOffer, CommonWish, MemberFarm
from farmbuild.crew.bookings.member_requests import archive_member
from farmbuild.plans.accepting import release_plan
from farmbuild.plans.selectors import asked_of_common, changes_since
from farmbuild.stock.models import Lot
from tests.coop.common.test_plans import Farm, taken
from tests.factories import MemberFarmFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm(organisation, user):
    return Farm(organisation, user)


def rails(farm):
    return CommonWish.objects.filter(offer=farm.offers[0])


def lost(plan):
    return [words.replace("\xa0", " ") for words in changes_since(plan=plan)]


def test_it_leaves_with_requests_of_a_plan_open(farm, client):
    plan, coop, member = farm.accept(farm.plan()), farm.links[0].organisation, farm.links[0].member
    by_hand = wish_for(member=member, user=farm.user, offer=farm.open(0, "film", 5, "1.00", length=None), quantity=2)
    count = f"Plans of {farm.organisation} count on 30 pieces of common stock; this is withdrawn, and free for others."
    client.force_login(farm.user)
    address = reverse("coop:seen-leave", args=[coop.slug])
    assert count in text_of(client.get(address))
    assert count in text_of(client.post(address, follow=True))
    assert {wish.state for wish in rails(farm)} == {"withdrawn"}
    by_hand.refresh_from_db()
    assert by_hand.state == "open"
    assert (CommonOffer.objects.get(pk=farm.offers[0].pk).free, Lot.objects.get(pk=farm.offers[0].lot_id).free) == (
        30,
        30,
    )
    # The farm reads it at its plan, whose link to the cooperative would lead nowhere now.
    words = f"30 of 1-3/8 rail, 10' are asked of {coop} no more: {farm.organisation} is no member any more"
    assert lost(plan) == [words]
    page = client.get(reverse("plans:plan", args=[plan.number]))
    assert "Out of date" in text_of(page) and reverse("coop:seen-common", args=[coop.slug]) not in page.content.decode()
    # The cooperative reads it on its first page and at the request.
    client.force_login(farm.managers[0])
    assert [step.says for step in next_steps(organisation=coop)] == [f"{farm.organisation} has left as a member."]
    assert next_steps(organisation=farm.organisation) == []
    wish = rails(farm).first()
    told = text_of(client.get(reverse("coop:common-wish", args=[wish.pk])))
    assert "withdrawn" in told and f"{farm.organisation} is no member any more" in told
    # Planned again it is bought, and what was given to the member by hand finds no farm.
    later = farm.plan(as_of=plan.as_of + timedelta(days=1))
    assert "rail" not in taken(later) and taken(later)["screw"]
    assert give_wish(**farm.coop(0), wish=by_hand).farm_lot is None


def test_the_cooperative_ends_it(farm, client):
    plan = farm.accept(farm.plan())
    client.force_login(farm.managers[0])
    address = reverse("coop:member-end", args=[farm.links[0].member.slug])
    assert "count on 30 pieces of common stock" in text_of(client.get(address))
    assert "count on 30 pieces of common stock" in text_of(client.post(address, follow=True))
    client.force_login(farm.user)
    [step] = next_steps(organisation=farm.organisation)
    assert step.says == f"{farm.links[0].organisation} ended your membership."
    assert f"{farm.links[0].organisation}: ended on" in text_of(client.get(step.url))
    assert next_steps(organisation=farm.links[0].organisation) == []
    assert lost(plan) and not rails(farm).filter(state="open").exists()
    with pytest.raises(ValidationError, match="ended already"):
        end_farm(**farm.coop(0), member=farm.links[0].member)
    # Back by a card, the same plan is planned again and asks again.
    MemberFarmFactory(organisation=farm.links[0].organisation, member=farm.links[0].member, farm=farm.organisation)
    farm.accept(farm.plan(as_of=plan.as_of + timedelta(days=1)))
    assert farm.wished()["rail"] == 30


def test_a_plan_that_is_only_tried_is_refused_after_it_left(farm):
    plan = farm.plan()
    leave(organisation=farm.organisation, user=farm.user, member=farm.links[0].member)
    assert not CommonWish.objects.exists() and any("common stock" in words for words in changes_since(plan=plan))
    with pytest.raises(ValidationError, match="not open to you"):
        farm.accept(plan)
    assert not CommonWish.objects.exists()


def test_withdrawn_by_hand_the_plan_says_so_until_it_is_accepted_anew(farm, client):
    plan, coop = farm.accept(farm.plan()), farm.links[0].organisation
    for wish in rails(farm):
        withdraw_wish(member=farm.links[0].member, user=farm.user, wish=wish)
    assert lost(plan) == [f"30 of 1-3/8 rail, 10' are asked of {coop} no more"]
    client.force_login(farm.user)
    page = text_of(client.get(reverse("plans:plan", args=[plan.number])))
    assert "Plan again" in page and "; withdrawn" in page
    release_plan(**farm.who, plan=plan)
    plan.refresh_from_db()
    farm.accept(plan)
    plan.refresh_from_db()
    assert changes_since(plan=plan) == []
    assert {row.state for row in asked_of_common(plan=plan)} == {"waits for an answer"}


def test_a_member_that_waits_for_pieces_is_not_archived(farm):
    farm.accept(farm.plan())
    with pytest.raises(ValidationError, match="30 pieces of common stock"):
        archive_member(**farm.coop(0), member=farm.links[0].member)


@pytest.mark.django_db(transaction=True)
def test_a_plan_is_accepted_as_the_farm_leaves(organisation, user):
    farm = Farm(organisation, user)
    plan = farm.plan()

    def tried(what):
        try:
            what()
        except ValidationError as error:
            return " ".join(error.messages)
        finally:
            connection.close()
        return ""

    both = [
        lambda: farm.accept(plan),
        lambda: leave(organisation=organisation, user=user, member=farm.links[0].member),
    ]
    with ThreadPoolExecutor(2) as pool:
        accepted, left = pool.map(tried, both)
    assert left == "" and (accepted == "" or "not open to you" in accepted)
    assert MemberFarm.objects.get(pk=farm.links[0].pk).ended_at
    assert not rails(farm).filter(state="open").exists()
    assert CommonOffer.objects.get(pk=farm.offers[0].pk).wished == 0
