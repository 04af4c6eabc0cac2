"""A farm plans against common stock that is open to it: fetched before it buys, asked for when the plan is accepted."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.coop.common.services import decline_wish, end_offer, give_wish, open_lot, wish_for
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_house, release_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import changes_since
from farmbuild.stock.models import Lot, Reservation
from farmbuild.workbooks.cut_lists import cut_list_workbook
from tests.factories import (
    LotFactory,
    MaterialFactory,
    MemberFactory,
    MemberFarmFactory,
    MembershipFactory,
    PlaceFactory,
)
from tests.plans.small_season import small_season
from tests.reading import text_of

pytestmark = pytest.mark.django_db


class Farm:
    """The small season of a farm that is a member of two cooperatives with rail, boards and screws."""

    def __init__(self, organisation, user, rails=30):
        self.season, self.user, self.organisation = small_season(organisation), user, organisation
        self.who = {"organisation": organisation, "user": user}
        self.links = [MemberFarmFactory(farm=organisation) for _ in range(2)]
        self.managers = [MembershipFactory(organisation=link.organisation).user for link in self.links]
        self.offers = [self.open(0, "rail", rails, "9.50"), self.open(1, "screw", 400, "0.05", length=None)]

    def open(self, at, code, pieces, price, **more):
        coop = self.links[at].organisation
        material = MaterialFactory(
            organisation=coop, code=code, kind="fastener" if code == "screw" else "tube", swaged=code == "rail"
        )
        lot = LotFactory(material=material, place=PlaceFactory(organisation=coop), on_hand=pieces, **more)
        return open_lot(organisation=coop, user=self.managers[at], lot=lot, quantity=pieces, price=Decimal(price))

    def plan(self, **changed):
        plan = services.create_plan(**self.season.ask(self.user, from_common=True, **changed)).plan
        services.work_out_plan(plan.pk)
        plan.refresh_from_db()
        assert plan.state == Plan.State.READY, plan.problem
        return plan

    def accept(self, plan):
        return accept_plan(**self.who, plan=plan)

    def coop(self, at):
        return {"organisation": self.links[at].organisation, "user": self.managers[at]}

    def wished(self):
        rows = CommonWish.objects.filter(state="open")
        found = {}
        for wish in rows.select_related("offer__lot__material"):
            code = wish.offer.lot.material.code
            found[code] = found.get(code, 0) + wish.quantity
        return found


@pytest.fixture
def farm(organisation, user):
    return Farm(organisation, user)


def taken(plan):
    _, result = plan.snapshot()
    found = {}
    for row in result.from_common:
        found[row.material] = found.get(row.material, 0) + row.quantity
    return found


def test_what_is_open_is_planned_with_and_asked_for_in_one_press(farm):
    plan = farm.plan()
    got = taken(plan)
    assert got["rail"] == 30 and 0 < got["screw"] <= 400
    assert not CommonWish.objects.exists()
    farm.accept(plan)
    assert farm.wished() == got
    assert {wish.member.pk for wish in CommonWish.objects.all()} == {link.member_id for link in farm.links}
    assert changes_since(plan=plan) == []
    for balance in balances(organisation=farm.organisation, houses=farm.season.houses).values():
        assert not balance.short
    with pytest.raises(ValidationError, match="accepted already"):
        farm.accept(plan)
    assert farm.wished() == got


def test_without_the_tick_nothing_of_it_is_planned_with(farm):
    plan = services.create_plan(**farm.season.ask(farm.user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert taken(plan) == {} and not plan.from_common
    again = services.plan_again(plan=farm.plan(), user=farm.user, as_of=plan.as_of).plan
    assert again.from_common


def test_what_went_meanwhile_refuses_all_of_it_in_words(farm):
    plan = farm.plan()
    other = MemberFarmFactory(member=MemberFactory(organisation=farm.links[0].organisation))
    wish_for(
        member=other.member, user=MembershipFactory(organisation=other.farm).user, offer=farm.offers[0], quantity=5
    )
    with pytest.raises(ValidationError, match=r"common stock of .* went meanwhile"):
        farm.accept(plan)
    assert farm.wished() == {"rail": 5} and not Reservation.objects.exists()
    plan.refresh_from_db()
    assert plan.accepted_at is None
    assert any("common stock" in words for words in changes_since(plan=plan))
    farm.accept(farm.plan())
    assert farm.wished()["rail"] == 30


def test_another_price_or_an_end_refuses_it(farm):
    plan = farm.plan()
    end_offer(**farm.coop(0), offer=farm.offers[0])
    with pytest.raises(ValidationError, match="not open to you at that price any more"):
        farm.accept(plan)
    open_lot(**farm.coop(0), lot=farm.offers[0].lot, quantity=30, price=Decimal(10))
    with pytest.raises(ValidationError, match="not open to you at that price any more"):
        farm.accept(plan)
    assert not CommonWish.objects.exists()


def test_released_or_planned_anew_nothing_is_asked_for_twice(farm):
    plan = farm.accept(farm.plan())
    got = farm.wished()
    later = farm.plan(as_of=plan.as_of + timedelta(days=1))
    assert taken(later) == taken(plan)
    farm.accept(later)
    assert farm.wished() == got
    release_house(**farm.who, house=farm.season.houses[0])
    assert 0 < farm.wished()["rail"] < got["rail"]
    release_plan(**farm.who, plan=later)
    assert farm.wished() == {}
    assert {offer.wished for offer in CommonOffer.objects.all()} == {0}


def test_what_is_given_is_held_for_its_houses(farm):
    plan = farm.accept(farm.plan())
    wishes = CommonWish.objects.filter(offer=farm.offers[0])
    for wish in wishes:
        give_wish(**farm.coop(0), wish=wish)
    lots = Lot.objects.of(farm.organisation).filter(place__name="From the cooperative")
    assert sum(lot.on_hand for lot in lots) == 30 == sum(lot.reserved for lot in lots)
    assert sum(lot.value for lot in lots) == Decimal("285.00")
    assert {row.plan_id for row in Reservation.objects.filter(lot__in=lots)} == {plan.pk}
    assert changes_since(plan=plan) == []
    for balance in balances(organisation=farm.organisation, houses=farm.season.houses).values():
        assert not balance.short
    later = farm.plan(as_of=plan.as_of + timedelta(days=1))
    farm.accept(later)
    assert sum(wish.quantity for wish in wishes.filter(state="given")) == 30
    assert "rail" not in farm.wished()


def test_what_is_declined_is_still_to_find(farm):
    farm.accept(farm.plan())
    for wish in CommonWish.objects.filter(offer=farm.offers[0]):
        decline_wish(**farm.coop(0), wish=wish, reason="needed here")
    short = [
        row.material.code
        for balance in balances(organisation=farm.organisation, houses=farm.season.houses).values()
        for row in balance.short
    ]
    assert "rail" in short


def test_pages_tick_say_and_remember_it(farm, client):
    client.force_login(farm.user)
    page = text_of(client.get(reverse("plans:new")))
    assert "Take from common stock before buying" in page and str(farm.links[0].organisation) in page
    plan = farm.plan()
    page = text_of(client.get(reverse("plans:plan", args=[plan.number])))
    assert f"{farm.links[0].organisation}: 30 of 1-3/8 rail" in page and "$285.00" in page
    assert "30 of 1-3/8 rail" in text_of(client.get(reverse("plans:orders", args=[plan.number])))
    for name in ("needs", "cutting", "leftovers", "shortfall"):
        assert client.get(reverse(f"plans:{name}", args=[plan.number])).status_code == 200
    assert "Plan " in text_of(client.post(reverse("plans:accept", args=[plan.number]), follow=True))
    assert farm.wished()["rail"] == 30
    assert "checked" in str(client.get(reverse("plans:new")).context["form"]["from_common"])


def test_the_cut_list_names_the_pieces_of_common_stock(farm):
    season, result = farm.plan().snapshot()
    book = load_workbook(BytesIO(cut_list_workbook(season=season, plan=result)), read_only=True)
    told = {str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row if cell}
    assert any(f"common stock of {farm.links[0].organisation}, lot" in words for words in told)


def test_a_farm_of_no_cooperative_is_not_asked(client, organisation, user):
    small_season(organisation)
    client.force_login(user)
    assert "common stock" not in text_of(client.get(reverse("plans:new")))


@pytest.mark.django_db(transaction=True)
def test_two_farms_that_accept_at_once_never_get_the_same_pieces():
    one = MembershipFactory()
    farms = [Farm(one.organisation, one.user)]
    other = MembershipFactory()
    second = Farm(other.organisation, other.user)
    # The second is a member of the first one's cooperative too, and its own have nothing more.
    for offer in second.offers:
        end_offer(organisation=offer.organisation, user=None, offer=offer)
    MemberFarmFactory(member=MemberFactory(organisation=farms[0].links[0].organisation), farm=second.organisation)
    farms.append(second)
    plans = [farm.plan() for farm in farms]
    assert [taken(plan)["rail"] for plan in plans] == [30, 30]

    def accept(at):
        try:
            farms[at].accept(plans[at])
        except ValidationError as error:
            return " ".join(error.messages)
        finally:
            connection.close()
        return "accepted"

    with ThreadPoolExecutor(2) as pool:
        found = sorted(pool.map(accept, range(2)), key=len)
    assert found[0] == "accepted" and "went meanwhile" in found[1]
    assert farms[0].offers[0].lot.common_offers.get().wishes.filter(state="open").count()
    assert CommonOffer.objects.get(pk=farms[0].offers[0].pk).wished == 30
