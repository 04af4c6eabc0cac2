"""The currency changes while nothing is priced in it, and no price is stored in one that is gone."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from farmbuild.buying.drafting.services import create_draft
from farmbuild.catalogue.services import create_supplier, save_offer
from farmbuild.measure import CURRENCIES, places
from farmbuild.orgs.countries import COUNTRIES
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Membership, Organisation
from farmbuild.orgs.services import save_organisation
from farmbuild.plans.services import create_plan
from farmbuild.stock.counts.services import record_find, start_count
from farmbuild.stock.models import ImportDraft
from farmbuild.stock.services import receive_lot
from tests.factories import HouseFactory, MaterialFactory, PlaceFactory, SiteFactory, SupplierFactory
from tests.orgs.test_organisation_page import PAGE, TYPED
from tests.reading import text_of
from tests.signing_in import keeper_of_the_server
from tests.waiting import comes_second


def now(organisation) -> str:
    return Organisation.objects.get(pk=organisation.pk).currency


def price_an_offer(organisation, user):
    supplier = SupplierFactory(organisation=organisation)
    data = {"material": MaterialFactory(organisation=organisation), "length": Decimal(3000), "pack": 1, "lead_days": 1}
    return lambda: save_offer(
        organisation=organisation, user=user, supplier=supplier, data=data, breaks=[(1, Decimal("9.5"))]
    )


def charge_for_delivery(organisation, user):
    return lambda: create_supplier(
        organisation=organisation, user=user, code="yard", name="Yard (invented)", delivery_charge=Decimal(40)
    )


def cost_a_lot(organisation, user):
    given = {
        "material": MaterialFactory(organisation=organisation),
        "place": PlaceFactory(organisation=organisation),
        "length": Decimal(3000),
    }
    return lambda: receive_lot(
        organisation=organisation,
        user=user,
        quantity=1,
        unit_cost=Decimal(3),
        received_on=date(2026, 11, 1),
        **given,
    )


def cost_a_find(organisation, user):
    place, given = PlaceFactory(organisation=organisation), {"organisation": organisation, "user": user}
    receive_lot(
        **given,
        material=MaterialFactory(organisation=organisation),
        place=place,
        length=Decimal(3000),
        quantity=1,
        received_on=date(2026, 11, 1),
    )
    found = {
        "count": start_count(**given, places=[place]),
        "place": place,
        "material": MaterialFactory(organisation=organisation),
        "length": Decimal(900),
    }
    return lambda: record_find(**given, **found, quantity=1, unit_cost=Decimal(2))


def order_by_hand(organisation, user):
    supplier, site = SupplierFactory(organisation=organisation), SiteFactory(organisation=organisation)
    return lambda: create_draft(
        organisation=organisation, user=user, supplier=supplier, delivery_site=site, need_by=date(2027, 3, 1)
    )


def limit_a_person(organisation, user):
    def work():
        lock_currency(organisation=organisation)
        Membership.objects.filter(user=user).update(send_limit=500)

    return work


def ask_for_two(organisation, user):
    return lambda: save_organisation(organisation=organisation, user=user, data={"two_people_above": Decimal(2500)})


PRICED = {
    limit_a_person: "1 limit of a person",
    ask_for_two: "the amount for two people",
    price_an_offer: "1 offer",
    charge_for_delivery: "the terms of 1 supplier",
    cost_a_lot: "the costs of 1 lot",
    cost_a_find: "the costs of a stock count",
    order_by_hand: "1 order",
}


def change(organisation, user, code="JPY"):
    return save_organisation(organisation=organisation, user=user, data={"currency": code})


def test_it_changes_while_nothing_is_priced(signed_in, organisation):
    MaterialFactory(organisation=organisation)
    SupplierFactory(organisation=organisation)
    assert "disabled" not in str(signed_in.get(PAGE).context["form"]["currency"])
    for code in ("JPY", "KWD", "EUR"):
        signed_in.post(PAGE, TYPED | {"currency": code, "two_people_above": ""})
        assert now(organisation) == code


@pytest.mark.parametrize("priced", PRICED)
def test_it_stays_once_anything_is_priced_and_says_what(signed_in, organisation, user, priced):
    priced(organisation, user)()
    page = signed_in.get(PAGE)
    assert f"It stays USD, in which there are {PRICED[priced]}" in text_of(page)
    assert "disabled" in str(page.context["form"]["currency"])
    answer = signed_in.post(PAGE, TYPED | {"currency": "JPY"})
    assert answer.context["form"].errors["currency"][0].startswith("It stays USD")
    with pytest.raises(ValidationError, match="It stays USD"):
        change(organisation, user)
    assert now(organisation) == "USD"
    # A box that is locked sends nothing; everything else is saved.
    assert signed_in.post(PAGE, {name: value for name, value in TYPED.items() if name != "currency"}).status_code == 302
    assert now(organisation) == "USD"


def test_a_plan_keeps_it_too(organisation, user):
    house = HouseFactory(organisation=organisation, site__organisation=organisation)
    given = {"organisation": organisation, "user": user, "houses": [house], "delivery_site": house.site}
    create_plan(**given, name="Season", as_of=date(2027, 2, 1))
    with pytest.raises(ValidationError, match="It stays USD, in which there are 1 plan"):
        change(organisation, user)


@pytest.mark.parametrize("code", ["", "EURO", "eur", "ZZZ", "XAU"])
def test_only_currencies_of_the_list_are_taken(signed_in, organisation, user, code):
    answer = signed_in.post(PAGE, TYPED | {"currency": code})
    assert list(answer.context["form"].errors) == ["currency"]
    with pytest.raises(ValidationError) as refused:
        change(organisation, user, code)
    assert list(refused.value.message_dict) == ["currency"]
    assert now(organisation) == "USD"


def test_every_country_proposes_a_currency_of_the_list():
    assert {row.currency for row in COUNTRIES.values()} <= set(CURRENCIES)
    assert all(len(code) == 3 and code.isupper() and name for code, name in CURRENCIES.items())
    assert [places(code) for code in ("JPY", "EUR", "KWD")] == [0, 2, 3]


@pytest.mark.parametrize("priced", [price_an_offer, charge_for_delivery, cost_a_lot, cost_a_find, ask_for_two])
def test_an_amount_typed_in_the_old_currency_is_refused(organisation, user, priced):
    """Whoever opened the request before the change is told, and stores nothing."""
    store, before = priced(organisation, user), Organisation.objects.get(pk=organisation.pk)
    change(organisation, user)
    assert before.currency == organisation.currency == "USD"
    with pytest.raises(ValidationError, match="The currency was changed to JPY meanwhile"):
        store()


def test_whoever_runs_the_server_cannot_change_it_either(client, organisation, user):
    client.force_login(keeper_of_the_server())
    page = reverse("admin:orgs_organisation_change", args=[organisation.pk])
    assert 'name="currency"' in client.get(page).content.decode()
    price_an_offer(organisation, user)()
    assert 'name="currency"' not in client.get(page).content.decode()


def test_files_that_wait_to_be_stored_go_with_the_old_currency(organisation, user):
    ImportDraft.objects.create(organisation=organisation, user=user, filename="yard.csv", rows=1, state="ready")
    change(organisation, user)
    assert not ImportDraft.objects.exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("priced", PRICED)
def test_of_two_at_once_the_second_sees_what_the_first_did(organisation, user, priced):
    store = priced(organisation, user)
    refused = comes_second(store, lambda: change(organisation, user))
    assert refused.startswith(f"It stays USD, in which there are {PRICED[priced]}")
    assert now(organisation) == "USD"


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("priced", [price_an_offer, charge_for_delivery, cost_a_lot, cost_a_find])
def test_of_two_at_once_no_price_is_stored_after_the_change(organisation, user, priced):
    store = priced(organisation, user)
    refused = comes_second(lambda: change(organisation, user), store)
    assert refused == "The currency was changed to JPY meanwhile. Look at the amounts, then save again."
    assert now(organisation) == "JPY"
