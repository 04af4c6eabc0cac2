"""Pages of common stock: opened, asked for, given or declined, ended; by whom, and what a member sees of it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from farmbuild.coop.common.opening import open_pieces
from farmbuild.coop.common.services import decline_wish, give_wish, wish_for
from farmbuild.coop.models import CommonOffer, CommonWish, MemberEntry
from farmbuild.orgs.acts import Role
from farmbuild.orgs.clock import today_of
from farmbuild.sites.yard.standing import next_steps_of
from farmbuild.stock.models import Lot
from farmbuild.stock.services import issue_pieces
from tests.coop.common.making import Common
from tests.factories import LotFactory, MaterialFactory, MemberFarmFactory, MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def signed_in(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def common():
    return Common()


@pytest.fixture
def manager(common, client):
    client.force_login(common.who["user"])
    return client


@pytest.fixture
def ana(common):
    return signed_in(common.users[common.ana.pk])


def seen(common, name="seen-common", *args):
    return reverse(f"coop:{name}", args=[common.organisation.slug, *args])


def test_a_lot_is_opened_from_its_page_and_ended_after_a_question(common, manager):
    page = text_of(manager.get(reverse("stock:lot", args=[common.lot.pk])))
    assert "Open to members" in page
    assert "No stock is open to members." in text_of(manager.get(reverse("coop:common")))
    at = reverse("coop:common-open-lot", args=[common.lot.pk])
    wrong = text_of(manager.post(at, {"quantity": "21", "price": ""}))
    assert ": 20 pieces. Type no more" in wrong and not CommonOffer.objects.exists()
    given = {"quantity": "12", "price": "14.50", "members": [common.ana.pk], "note": "by the gate"}
    assert manager.post(at, given).status_code == 302
    offer = CommonOffer.objects.get()
    assert (offer.quantity, offer.price, [*offer.members.all()]) == (12, Decimal("14.5"), [common.ana])
    page = text_of(manager.get(reverse("coop:common")))
    assert "12 pieces open to members are still free; nobody waits for an answer." in page
    assert "Ana" in page and "14.50" in page
    assert "is open to members already" in text_of(manager.get(at, follow=True))

    page = text_of(manager.get(offer.get_absolute_url()))
    assert "12 of 12 pieces can still be asked for." in page and "by the gate" in page
    end = reverse("coop:common-end", args=[offer.pk])
    assert "Members then ask for no more" in text_of(manager.get(end))
    assert CommonOffer.objects.filter(ended_at=None).exists()
    assert "is open to members no more" in text_of(manager.post(end, follow=True))
    assert "This has ended already." in text_of(manager.post(end, follow=True))
    assert "This has ended already." in text_of(manager.get(end, follow=True))
    assert common.lot.reference in text_of(manager.get(reverse("coop:common") + "?ended=1"))
    assert common.lot.reference not in text_of(manager.get(reverse("coop:common")))


def test_pieces_of_one_material_are_taken_from_the_oldest_lots(common, manager):
    older = LotFactory(
        material=common.lot.material, place=common.lot.place, received_on=common.lot.received_on - timedelta(days=9)
    )
    Lot.objects.filter(pk=older.pk).update(reference="OLD")
    at, open_to = reverse("coop:common-open"), {"material": common.lot.material.pk, "price": "12"}
    wrong = text_of(manager.post(at, open_to | {"length": "", "quantity": "25"}))
    assert "Type the length of one piece." in wrong
    wrong = text_of(manager.post(at, open_to | {"length": "10'", "quantity": "41"}))
    assert "40 pieces of it are free and not open yet" in wrong and not CommonOffer.objects.exists()
    page = text_of(manager.post(at, open_to | {"length": "10'", "quantity": "25"}, follow=True))
    assert f"Open to members now: 20 of lot OLD and 5 of lot {common.lot.reference}." in page
    assert [*CommonOffer.objects.order_by("pk").values_list("lot", "quantity", "price")] == [
        (older.pk, 20, 12),
        (common.lot.pk, 5, 12),
    ]
    with pytest.raises(ValidationError, match="No piece of it is free"):
        open_pieces(**common.who, material=common.lot.material, length=common.lot.length, quantity=1)
    with pytest.raises(ValidationError, match="Choose a material of your own"):
        open_pieces(**common.who, material=MaterialFactory(), length=common.lot.length, quantity=1)


def test_a_member_asks_and_withdraws_and_is_answered(common, manager, ana):
    assert "Nothing is open to you at present." in text_of(ana.get(seen(common)))
    offer = common.open(12, price=Decimal(14))
    page = text_of(ana.get(seen(common)))
    assert "1 lot of common stock is open to you." in page and "14.00" in page
    at = seen(common, "seen-common-offer", offer.pk)
    assert "12 pieces are free" in text_of(ana.get(at))
    assert "13 cannot be kept for you" in text_of(ana.post(at, {"quantity": "13"}))
    assert ana.post(at, {"quantity": "5", "note": "fetched on Friday"}).status_code == 302
    assert ana.post(at, {"quantity": "2"}).status_code == 302
    first, second = CommonWish.objects.order_by("pk")
    withdraw = seen(common, "seen-common-wish", second.pk)
    assert "You asked for 2 pieces; they are kept for you." in text_of(ana.get(withdraw))
    assert "Withdrawn. The pieces are free for others." in text_of(ana.post(withdraw, follow=True))
    assert "is withdrawn already" in text_of(ana.post(withdraw, follow=True))

    (step,) = next_steps_of(organisation=common.organisation)
    assert step.says == "1 request for common stock waits for an answer."
    page = text_of(manager.get(reverse("coop:common-wishes")))
    assert "1 request waits for an answer" in page and "Answer Ana" in page
    page = text_of(manager.get(reverse("coop:common-wish", args=[first.pk])))
    assert "Ana asks for 5 pieces, which are kept for it." in page and "$70.00" in page and "fetched on Friday" in page
    give = reverse("coop:common-wish-give", args=[first.pk])
    assert "Given: 5 for Ana" in text_of(manager.post(give, follow=True))
    assert "is given already" in text_of(manager.post(give, follow=True))
    assert MemberEntry.objects.get().amount == 70
    assert "Ana asked for 5 pieces: given." in text_of(manager.get(reverse("coop:common-wish", args=[first.pk])))
    assert "You were given 5 pieces." in text_of(ana.get(seen(common, "seen-common-wish", first.pk)))
    assert "5 of " in text_of(ana.get(reverse("coop:seen", args=[common.organisation.slug])))


def test_a_request_is_declined_with_a_reason_that_the_member_reads(common, manager, ana):
    wish = wish_for(**common.by(common.ana), offer=common.open(12), quantity=5)
    at = reverse("coop:common-wish", args=[wish.pk])
    assert "Say why in a few words" in text_of(manager.post(at, {"reason": " "}))
    assert manager.post(at, {"reason": "needed for the north house"}).status_code == 302
    page = text_of(ana.get(seen(common, "seen-common-wish", wish.pk)))
    assert "You asked for 5 pieces: declined." in page and "needed for the north house" in page
    assert common.now() == (20, 0, 20)
    assert "is declined already" in text_of(manager.post(at, {"reason": "again"}, follow=True))
    assert "declined" in text_of(manager.get(reverse("coop:common-wishes") + "?answered=1"))


def test_nothing_of_other_members_is_seen(common, ana):
    bo = common.by(common.bo)
    for_bo = common.open(5, members=[common.bo])
    wish = wish_for(**bo, offer=for_bo, quantity=3, note="for Bo alone")
    page = ana.get(seen(common)).content.decode()
    assert common.lot.reference not in page and "Bo" not in text_of(ana.get(seen(common)))
    assert ana.get(seen(common, "seen-common-offer", for_bo.pk)).status_code == 404
    for send in (ana.get, ana.post):
        assert send(seen(common, "seen-common-wish", wish.pk)).status_code == 404
    assert ana.get(reverse("coop:common")).status_code == 404
    wish.refresh_from_db()
    assert wish.state == "open"


def test_people_of_its_farm_see_it_by_their_acts_and_are_told_of_the_answer(common):
    row = MemberFarmFactory(organisation=common.organisation, member=common.ana)
    owner, looks = (MembershipFactory(organisation=row.farm, role=role).user for role in (Role.OWNER, Role.LOOKS))
    offer = common.open(12, price=Decimal(14))
    at = seen(common, "seen-common-offer", offer.pk)
    farm, guest = signed_in(owner), signed_in(looks)
    assert "$14.00" in text_of(farm.get(at)) and "$14.00" not in text_of(guest.get(at))
    assert guest.post(at, {"quantity": "1"}).status_code == 403
    assert farm.post(at, {"quantity": "4"}).status_code == 302
    assert next_steps_of(organisation=row.farm) == []
    decline_wish(**common.who, wish=CommonWish.objects.get(), reason="needed here")
    (step,) = next_steps_of(organisation=row.farm)
    assert step.says.startswith(f"{common.organisation}: 4 pieces of ") and step.says.endswith(", declined.")
    assert step.url == seen(common, "seen-common-wish", CommonWish.objects.get().pk)


@pytest.mark.parametrize(
    ("role", "opens", "gives"),
    [(Role.OWNER, 200, 302), (Role.YARD, 403, 302), (Role.LOOKS, 403, 403), (Role.CREW, 403, 403)],
)
def test_who_plans_opens_and_who_has_the_stock_gives(common, role, opens, gives):
    wish = wish_for(**common.by(common.ana), offer=common.open(12), quantity=5)
    client = signed_in(MembershipFactory(organisation=common.organisation, role=role).user)
    assert client.get(reverse("coop:common-open")).status_code == opens
    assert client.post(reverse("coop:common-wish-give", args=[wish.pk])).status_code == gives
    wish.refresh_from_db()
    assert wish.state == ("given" if gives == 302 else "open")


def test_what_went_otherwise_is_not_shown_as_free(common, ana):
    offer = common.open(20)
    issue_pieces(**common.who, lot=common.lot, quantity=17, reason="gate")
    assert "3 pieces are free" in text_of(ana.get(seen(common, "seen-common-offer", offer.pk)))
    offer.until = today_of(organisation=common.organisation) - timedelta(days=1)
    offer.save()
    assert ana.get(seen(common, "seen-common-offer", offer.pk)).status_code == 404


def test_what_was_given_stands_in_the_stock_of_a_farm(common):
    row = MemberFarmFactory(organisation=common.organisation, member=common.ana)
    user = MembershipFactory(organisation=row.farm).user
    MaterialFactory(organisation=row.farm, code=common.lot.material.code)
    wish = give_wish(**common.who, wish=wish_for(member=common.ana, user=user, offer=common.open(), quantity=2))
    page = signed_in(user).get(seen(common, "seen-common-wish", wish.pk))
    assert "See it in our stock" in text_of(page)
