"""Whoever is erased is found in no table afterwards, and the books are as whole as before."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import connection
from django.urls import reverse

from farmbuild.access.log import What, write
from farmbuild.access.models import Entry as SignInEntry
from farmbuild.common.guards import as_made
from farmbuild.crew.feeds import make_feed
from farmbuild.crew.models import CalendarFeed
from farmbuild.history.models import Entry
from farmbuild.moving.erasing import FORMER, erase_person, erase_self
from farmbuild.moving.models import Export
from farmbuild.orgs.models import Membership, User
from farmbuild.stock.models import Movement
from farmbuild.stock.services import reprice_lot
from tests.factories import (
    LotFactory,
    MembershipFactory,
    MemberSignInFactory,
    OrganisationFactory,
    PersonFactory,
    UserFactory,
)
from tests.reading import text_of

pytestmark = pytest.mark.django_db
NAME, EMAIL, SIGNS_IN_AS = "Zephyrine Quill", "zephyrine@quill.example", "zephyrine-signs"
PASSWORD = "correct horse battery"


@pytest.fixture
def farm():
    return OrganisationFactory(name="Invented Orchard", slug="orchard")


@pytest.fixture
def owner(farm):
    return MembershipFactory(organisation=farm, user=UserFactory(first_name="Ada", username="ada")).user


@pytest.fixture
def person(farm, owner) -> Membership:
    """Who works in a crew, has a calendar, signed in, and changed and posted something."""
    user = UserFactory(first_name="Zephyrine", last_name="Quill", email=EMAIL, username=SIGNS_IN_AS)
    user.set_password(PASSWORD)
    user.save()
    found = MembershipFactory(organisation=farm, user=user, role="owner")
    crew = PersonFactory(organisation=farm, name=NAME, slug="zephyrine-quill", user=user)
    make_feed(organisation=farm, user=user, person=crew)
    lot = LotFactory(material__organisation=farm, unit_cost="2.00")
    reprice_lot(organisation=farm, user=user, lot=lot, unit_cost=Decimal("3.00"), reason="The invoice came")
    Movement.objects.filter(lot=lot).count()
    write(What.SIGNED_IN, user=user)
    assert Entry.objects.filter(user=user, who=NAME).exists()
    return found


def where_found(*words: str) -> set[str]:
    """Tables and columns of the whole database that have one of the words, in text, JSON or bytes."""
    found = set()
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            columns = [column[0] for column in cursor.description]
            for row in cursor.fetchall():
                for column, value in zip(columns, row, strict=True):
                    told = bytes(value).decode("latin-1") if isinstance(value, bytes | memoryview) else str(value)
                    if any(word.casefold() in told.casefold() for word in words):
                        found.add(f"{table}.{column}")
    return found


def everywhere() -> set[str]:
    return where_found(NAME, EMAIL, SIGNS_IN_AS, "zephyrine")


def books() -> dict[str, int]:
    kept = ("stock.Movement", "stock.Repricing", "history.Entry", "crew.Person", "stock.Lot")
    return {label: apps.get_model(label)._base_manager.count() for label in kept}


def test_nothing_of_them_is_found(farm, owner, person):
    assert {"orgs_user.email", "history_entry.who", "crew_person.name"} <= everywhere()
    Export.objects.create(organisation=farm, made_by=owner)
    others = Export.objects.create(organisation=OrganisationFactory(slug="other"), made_by=owner)
    before, guards = books(), as_made()
    assert erase_person(organisation=farm, user=owner, person=person)
    assert everywhere() == set()
    assert books() == before and as_made() == guards
    user = User.objects.get(pk=person.user_id)
    assert user.display_name == FORMER and not user.is_active and not user.has_usable_password()
    assert {*Entry.objects.filter(user=user).values_list("who", flat=True)} == {FORMER}
    assert not CalendarFeed.objects.exists()
    # An export that waits here has the name in it.
    assert [*Export.objects.all()] == [others]
    assert {*SignInEntry.objects.filter(user=user).values_list("what", flat=True)} == {What.TAKEN_OUT}


def test_pages_say_former_member(client, farm, owner, person):
    client.force_login(owner)
    page = text_of(client.get(reverse("moving:erase", args=[person.pk])))
    assert "The name, e-mail and sign-in of Zephyrine Quill go for good." in page
    assert "downloaded before still have the name" in page
    answer = client.post(reverse("moving:erase", args=[person.pk]), follow=True)
    assert "They are erased." in text_of(answer)
    told = text_of(client.get(reverse("history:changes")))
    assert FORMER in told and "Zephyrine" not in told


def test_oneself_with_the_password(client, farm, owner, person):
    client.force_login(person.user)
    assert "go for good, from every organisation" in text_of(client.get(reverse("moving:erase-own")))
    wrong = client.post(reverse("moving:erase-own"), {"password": "something else"})
    assert "not the password" in text_of(wrong) and User.objects.filter(username=SIGNS_IN_AS).exists()
    client.post(reverse("moving:erase-own"), {"password": PASSWORD})
    assert everywhere() == set()
    assert not Membership.objects.filter(user=person.user).exists()


def test_the_last_owner_stays(farm, owner, person):
    Membership.objects.filter(user=owner).update(role="planner")
    with pytest.raises(ValidationError, match="Make someone else an owner first"):
        erase_self(user=person.user)
    assert "orgs_user.email" in everywhere() and Membership.objects.filter(pk=person.pk).exists()


def test_whoever_belongs_elsewhere_leaves_this_one_alone(farm, owner, person):
    other = MembershipFactory(organisation=OrganisationFactory(slug="other"), user=person.user)
    assert not erase_person(organisation=farm, user=owner, person=person)
    user = User.objects.get(pk=person.user_id)
    assert user.email == EMAIL and user.is_active
    assert [*user.memberships.values_list("pk", flat=True)] == [other.pk]


def test_whoever_books_at_a_cooperative_leaves_this_one_alone(farm, owner, person):
    MemberSignInFactory(user=person.user)
    assert not erase_person(organisation=farm, user=owner, person=person)
    assert User.objects.get(pk=person.user_id).email == EMAIL
    assert not person.user.memberships.exists()


def test_by_the_machine_it_asks_first(farm, owner, person, monkeypatch):
    monkeypatch.setattr("builtins.input", lambda asked: "no")
    with pytest.raises(CommandError, match="Nothing was erased"):
        call_command("erase_person", SIGNS_IN_AS)
    monkeypatch.setattr("builtins.input", lambda asked: SIGNS_IN_AS)
    call_command("erase_person", SIGNS_IN_AS)
    assert everywhere() == set()
    with pytest.raises(CommandError, match="Nobody signs in as"):
        call_command("erase_person", SIGNS_IN_AS, "--yes")


def test_who_keeps_the_server_is_erased_there(farm, owner, person):
    User.objects.filter(pk=person.user_id).update(is_superuser=True)
    with pytest.raises(ValidationError, match="keeps the server"):
        erase_person(organisation=farm, user=owner, person=Membership.objects.get(pk=person.pk))


def test_a_planner_erases_nobody(client, farm, owner, person):
    planner = MembershipFactory(organisation=farm, role="planner").user
    client.force_login(planner)
    assert client.post(reverse("moving:erase", args=[person.pk])).status_code == 403
