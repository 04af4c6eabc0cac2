"""The administration is the keeper's alone; it shows, and what is changed there goes the way of the pages."""

from __future__ import annotations

import pytest
from django.contrib import admin
from django.urls import reverse

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.orgs.models import Membership, Organisation, User
from tests.factories import HouseFactory, MembershipFactory, OfferFactory, PlaceFactory
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper(client):
    client.force_login(keeper_of_the_server())
    return client


def test_people_and_staff_of_organisations_have_no_way_in(client, user):
    user.is_staff = True
    user.save()
    client.force_login(user)
    for page in ("index", "orgs_user_changelist", "sites_house_changelist"):
        answer = client.get(reverse(f"admin:{page}"))
        assert answer.status_code == 403


def test_all_but_people_and_organisations_is_to_look_at():
    open_to_change = {model for model, page in admin.site._registry.items() if not isinstance(page, ReadOnlyAdmin)}
    assert open_to_change == {User, Organisation}


@pytest.mark.parametrize("make", [HouseFactory, OfferFactory, PlaceFactory])
def test_rows_that_rules_hang_on_are_shown_and_not_changed(keeper, make):
    row = make()
    name = f"admin:{row._meta.app_label}_{row._meta.model_name}"
    assert keeper.get(reverse(f"{name}_change", args=[row.pk])).status_code == 200
    assert keeper.post(reverse(f"{name}_change", args=[row.pk]), {"name": "x"}).status_code == 403
    assert keeper.post(reverse(f"{name}_delete", args=[row.pk]), {"post": "yes"}).status_code == 403
    assert keeper.get(reverse(f"{name}_add")).status_code == 403


def typed(answer) -> dict[str, str]:
    """The form and its inline forms as a browser sends them back."""
    found = {}
    inlines = [each.formset for each in answer.context["inline_admin_formsets"]]
    forms = [answer.context["adminform"].form, *(form for each in inlines for form in [each.management_form, *each])]
    for form in forms:
        for box in form:
            found[box.html_name] = "" if box.value() is None else box.value()
    return {name: value for name, value in found.items() if value is not False}


def test_an_organisation_is_made_with_what_is_usual_in_its_units(keeper):
    page = reverse("admin:orgs_organisation_add")
    sent = typed(keeper.get(page)) | {"name": "Invented Acres", "slug": "acres", "unit_system": "metric"}
    assert keeper.post(page, sent).status_code == 302
    made = Organisation.objects.get(slug="acres")
    assert made.kerf == 3 and made.unit_system == "metric"


def test_it_keeps_an_owner_and_its_address(keeper, organisation, user):
    page = reverse("admin:orgs_organisation_change", args=[organisation.pk])
    sent = typed(keeper.get(page)) | {"slug": "other", "name": "Renamed"}
    assert keeper.post(page, sent | {"memberships-0-role": "looks"}).status_code == 200
    assert keeper.post(page, sent | {"memberships-0-DELETE": "on"}).status_code == 200
    assert Membership.objects.get().role == "owner"
    assert keeper.post(page, sent).status_code == 302
    before, organisation = organisation.slug, Organisation.objects.get(pk=organisation.pk)
    assert (organisation.name, organisation.slug) == ("Renamed", before)


def test_the_sign_in_of_the_last_owner_is_not_closed(keeper, organisation, user):
    page = reverse("admin:orgs_user_change", args=[user.pk])
    sent = typed(keeper.get(page))
    sent.pop("is_active")
    answer = keeper.post(page, sent, follow=True)
    assert "Nobody could change settings and people then" in answer.content.decode()
    assert User.objects.get(pk=user.pk).is_active
    other = MembershipFactory(organisation=organisation, without=["own"])
    assert "Nobody could change" in keeper.post(page, sent, follow=True).content.decode()
    Membership.objects.filter(pk=other.pk).update(without=[])
    assert keeper.post(page, sent).status_code == 302
    assert not User.objects.get(pk=user.pk).is_active


def test_an_owner_who_may_not_or_cannot_sign_in_is_none(keeper, organisation, user):
    """The page of an organisation goes by what they may do, not by the word of the role."""
    other = MembershipFactory(organisation=organisation, without=["own"])
    page = reverse("admin:orgs_organisation_change", args=[organisation.pk])
    sent = typed(keeper.get(page))
    last = next(name for name, value in sent.items() if name.endswith("-user") and str(value) == str(user.pk))
    answer = keeper.post(page, sent | {last.replace("-user", "-DELETE"): "on"}, follow=True)
    assert "Nobody could change settings and people then" in answer.content.decode()
    assert Membership.objects.filter(organisation=organisation).count() == 2 and other.pk


def test_nobody_is_deleted_and_no_organisation(keeper, organisation, user):
    for row in (organisation, user):
        address = reverse(f"admin:orgs_{row._meta.model_name}_delete", args=[row.pk])
        assert keeper.post(address, {"post": "yes"}).status_code == 403
    assert User.objects.filter(pk=user.pk).exists()


def test_sign_ins_of_visitors_are_opened_and_closed_where_their_member_is(keeper):
    visitor = User.objects.create(username="visitor", visitor=True, is_active=False)
    address = reverse("admin:orgs_user_change", args=[visitor.pk])
    assert keeper.post(address, {"username": "visitor", "is_active": "on"}).status_code == 403
    visitor.refresh_from_db()
    assert not visitor.is_active
