"""The organisation page: what it changes, whose it is, who may open it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from farmbuild.orgs.accounts import create_organisation
from farmbuild.orgs.models import Membership
from farmbuild.orgs.services import FIELDS, save_organisation
from tests.factories import MembershipFactory, OrganisationFactory, UserFactory
from tests.signing_in import keeper_of_the_server

PAGE = "/organisation/"
TYPED = {
    "country": "NZ",
    "decimal_sign": ".",
    "language": "en",
    "name": "Alder Bank (invented)",
    "address": "2 Made-up Road",
    "contact": "Yard, 555 0100",
    "time_zone": "Europe/Vienna",
    "unit_system": "imperial",
    "currency": "USD",
    "two_people_above": "2500",
    "kerf": "1/16",
    "keep_from": "18",
    "tax_name": "VAT",
    "tax_percent": "21",
}


def stored(organisation):
    organisation.refresh_from_db()
    return {name: getattr(organisation, name) for name in FIELDS}


def test_page_shows_the_organisation_in_its_own_unit(signed_in, organisation):
    html = signed_in.get(PAGE).content.decode()
    assert f'value="{organisation.name}"' in html
    # 3.175 mm and 609.6 mm are the model's own defaults.
    assert 'value="1/8&quot;"' in html
    assert 'value="24&quot;"' in html


def test_every_field_is_stored(signed_in, organisation):
    answer = signed_in.post(PAGE, TYPED)
    assert (answer.status_code, answer.url) == (302, PAGE)
    assert stored(organisation) == {
        **TYPED,
        "kerf": Decimal("1.5875"),
        "keep_from": Decimal("457.2"),
        "tax_percent": Decimal(21),
        "two_people_above": Decimal(2500),
        # A box without a tick.
        "prices_include_tax": False,
        "recovers_tax": False,
    }
    assert "Alder Bank (invented) is saved." in signed_in.get(PAGE).content.decode()


def test_bare_numbers_are_read_in_the_unit_that_the_page_showed(signed_in, organisation):
    """The switch to metric does not change what was typed beside it."""
    signed_in.post(PAGE, TYPED | {"unit_system": "metric", "kerf": "1"})
    assert stored(organisation)["kerf"] == Decimal("25.4")
    assert 'data-unit="mm"' in signed_in.get(PAGE).content.decode()


@pytest.mark.parametrize(
    "field, typed, said",
    [
        ("name", "", "Type what the organisation is called."),
        ("tax_percent", "a lot", "Type the tax in percent, from 0 to 100, for example 6.25."),
        ("tax_percent", "101", None),
        ("kerf", "a hair", "“a hair” cannot be read as a length"),
        ("keep_from", "", "Type the shortest offcut worth keeping."),
        ("unit_system", "cubits", None),
        ("two_people_above", "a lot", "Type an amount of money, for example 2500, or leave it empty."),
        ("two_people_above", "-1", "Type an amount of money"),
    ],
)
def test_what_cannot_be_used_is_refused_at_the_field_and_nothing_is_stored(signed_in, organisation, field, typed, said):
    before = stored(organisation)
    answer = signed_in.post(PAGE, TYPED | {field: typed})
    assert answer.status_code == 200
    form = answer.context["form"]
    assert list(form.errors) == [field]
    if said:
        assert form.errors[field][0].startswith(said)
    assert stored(organisation) == before
    html = answer.content.decode()
    assert "Alder Bank" in html or field == "name", "what was typed stays"


def test_a_refused_name_does_not_stand_in_the_top_bar(signed_in, organisation):
    html = signed_in.post(PAGE, TYPED | {"tax_percent": "?"}).content.decode()
    bar = html[html.index('class="who"') : html.index("</header>")]
    assert organisation.name in bar


def test_only_one_s_own_organisation_is_shown_and_changed(signed_in, organisation):
    other = MembershipFactory().organisation
    before = stored(other)
    assert other.name not in signed_in.get(PAGE).content.decode()
    signed_in.post(PAGE, TYPED | {"organisation": other.pk, "id": other.pk, "slug": other.slug})
    assert stored(other) == before
    organisation.refresh_from_db()
    assert organisation.name == TYPED["name"]
    assert organisation.slug != other.slug


def test_signing_in_comes_first(client, db):
    answer = client.get(PAGE)
    assert answer.status_code == 302
    assert answer.url == f"{reverse('sign-in')}?next={PAGE}"


def test_a_user_of_no_organisation_is_told_so_and_can_sign_out(client, db):
    client.force_login(UserFactory())
    answer = client.get(PAGE)
    assert answer.status_code == 403
    html = answer.content.decode()
    assert "belongs to no organisation yet" in html
    assert reverse("sign-out") in html
    assert client.post(reverse("sign-out")).status_code == 302


def test_other_ways_of_asking_are_refused(signed_in):
    assert signed_in.delete(PAGE).status_code == 405


def test_service_stores_nothing_that_the_model_refuses(organisation, user):
    before = stored(organisation)
    with pytest.raises(ValidationError) as refused:
        save_organisation(organisation=organisation, user=user, data={"name": "New", "tax_percent": Decimal(101)})
    assert list(refused.value.message_dict) == ["tax_percent"]
    assert stored(organisation) == before


def test_queries_do_not_grow_with_organisations(signed_in, django_assert_max_num_queries):
    OrganisationFactory.create_batch(5)
    # Session, user, organisation, and whether anything is priced in its currency: of nine rooms some twenty tables are
    # asked, and its own limits.
    with django_assert_max_num_queries(28):
        signed_in.get(PAGE)


def test_admin_adds_people_to_an_organisation(client, organisation):
    client.force_login(keeper_of_the_server())
    newcomer = UserFactory()
    page = reverse("admin:orgs_organisation_change", args=[organisation.pk])
    assert client.get(page).status_code == 200
    fields = stored(organisation) | {
        "slug": organisation.slug,
        "currency": "USD",
        "memberships-TOTAL_FORMS": 1,
        "memberships-INITIAL_FORMS": 0,
        "memberships-0-user": newcomer.pk,
        "memberships-0-organisation": organisation.pk,
        "memberships-0-role": "planner",
        "kerf": '1/8"',
        "keep_from": "2'",
        "two_people_above": "",
    }
    assert client.post(page, fields).status_code == 302
    added = Membership.objects.get(user=newcomer)
    assert (added.organisation, added.role) == (organisation, "planner")


def test_usual_saw_cut_and_offcut_follow_the_units_there_and_back(signed_in, organisation):
    """1/8 in and 2 ft become 3 and 600 mm; what was typed otherwise stays to the micron."""
    usual = TYPED | {"kerf": "1/8", "keep_from": "2'"}
    signed_in.post(PAGE, usual)
    assert (stored(organisation)["kerf"], stored(organisation)["keep_from"]) == (Decimal("3.175"), Decimal("609.6"))
    signed_in.post(PAGE, usual | {"unit_system": "metric"})
    assert (stored(organisation)["kerf"], stored(organisation)["keep_from"]) == (3, 600)
    signed_in.post(PAGE, usual | {"unit_system": "metric", "kerf": "3.175", "keep_from": "600"})
    assert stored(organisation)["kerf"] == Decimal("3.175"), "typed as metric, so it is meant"
    signed_in.post(PAGE, usual | {"kerf": "2", "keep_from": "600"})
    assert (stored(organisation)["kerf"], stored(organisation)["keep_from"]) == (2, Decimal("609.6"))


@pytest.mark.parametrize(("units", "kerf", "keep_from"), [("imperial", "3.175", "609.6"), ("metric", "3", "600")])
def test_a_new_organisation_has_the_usual_ones_of_its_units(db, units, kerf, keep_from):
    made = create_organisation(name="Alder Bank (invented)", slug="alder", unit_system=units)
    assert (made.kerf, made.keep_from) == (Decimal(kerf), Decimal(keep_from))
    assert create_organisation(name="Birch", slug="birch", unit_system=units, kerf=Decimal(2)).kerf == 2
