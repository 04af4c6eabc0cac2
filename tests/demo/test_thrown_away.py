"""An invented season is thrown away whole, and nothing else with it."""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from unittest import mock

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, connections, transaction
from django.test import Client
from django.utils import timezone

from farmbuild.common.doctor.schema import guards
from farmbuild.crew.models import Person
from farmbuild.demo.season import load_season
from farmbuild.demo.services import load_demo
from farmbuild.orgs.acts import NotAllowed
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.throwing_away import throw_away
from farmbuild.stock.models import Movement
from tests import size
from tests.demo.checker import contradictions, stages
from tests.demo.test_season import CLOCKS_GO_BACK, PROMISED
from tests.factories import MembershipFactory
from tests.plans.small_season import small_season
from tests.size import LONG

#: What Django keeps of itself, and who signed in when, which is kept whatever becomes of them.
DJANGO = {"contenttypes", "auth", "sessions", "admin", "axes"}
ADDRESS = "/organisation/throw-away/"


def counts() -> dict[str, int]:
    """Rows by table; of Django itself its people alone."""
    models = [model for model in apps.get_models(include_auto_created=True) if model._meta.app_label not in DJANGO]
    return {model._meta.label: model._base_manager.count() for model in models}


def clocks_go_back():
    return mock.patch.object(timezone, "now", lambda: CLOCKS_GO_BACK)


@pytest.fixture
def own(organisation, user):
    """A season of one's own beside it."""
    small_season(organisation)
    return organisation


@pytest.fixture
def before(own):
    """Rows by table and guards, before the demo is there."""
    return counts(), guards()


@pytest.fixture
def demo(before):
    """With its work once, on PostgreSQL, which refuses rows in the wrong order at once; on SQLite the guards are
    others."""
    if not (LONG or size.on_another_database):
        return load_demo()
    with clocks_go_back():
        return load_season()


def test_all_of_it_goes_and_the_own_farm_stays_and_it_can_be_loaded_anew(before, demo, client):
    before, guarded = before
    assert sum(counts().values()) > sum(before.values()) + 500
    client.force_login(demo.user)
    page = client.get("/organisation/").content.decode()
    assert f'href="{ADDRESS}"' in page
    asked = client.get(ADDRESS)
    assert "goes for good" in asked.content.decode() and counts() != before
    answer = client.post(ADDRESS, follow=True)
    assert f"The invented season of {demo.organisation.name} is thrown away." in answer.content.decode()
    assert answer.redirect_chain[-1][0].startswith("/sign-in/")
    assert counts() == before
    # Anew, as it is before its work, and by the command.
    assert load_demo().organisation.invented
    out = io.StringIO()
    call_command("demo", throw_away=True, stdout=out)
    assert "is thrown away:" in out.getvalue()
    assert counts() == before
    assert guards() == guarded
    with pytest.raises(DatabaseError), transaction.atomic():
        Movement.objects.all()._raw_delete("default")
    assert client.get("/houses/")["Location"].startswith("/sign-in/")
    connection.check_constraints()


def test_a_real_farm_is_never_thrown_away(own, user, signed_in):
    before = counts()
    for answer in (signed_in.get(ADDRESS), signed_in.post(ADDRESS)):
        assert answer["Location"] == "/organisation/"
    assert "Only an invented season can be thrown away" in signed_in.get("/organisation/").content.decode()
    assert "throw-away" not in signed_in.get("/organisation/").content.decode()
    with pytest.raises(ValidationError):
        throw_away(organisation=own, user=user)
    with pytest.raises(CommandError, match="There is no invented season here"):
        call_command("demo", throw_away=True)
    assert counts() == before


def test_only_an_owner_of_it_may(own, user, client):
    Organisation.objects.filter(pk=own.pk).update(invented=True)
    others = MembershipFactory(organisation=own, role=Membership.Role.PLANNER).user
    stranger = MembershipFactory().user
    # The stranger owns a farm of their own, which is real.
    for person, status in ((others, 403), (stranger, 302)):
        client.force_login(person)
        assert client.post(ADDRESS).status_code == status
        with pytest.raises(NotAllowed):
            throw_away(organisation=own, user=person)
    assert Organisation.objects.filter(pk=own.pk).exists()


@pytest.mark.skipif(
    not size.on_another_database, reason="with --database=postgresql: on SQLite test_season.py looks at the same"
)
def test_until_then_it_contradicts_itself_nowhere(demo):
    with clocks_go_back():
        assert contradictions(demo.organisation) == []
        assert stages(demo.organisation) == PROMISED


def test_who_belongs_elsewhere_too_stays(own, user, demo):
    """With what she did there; whoever was of the invented season alone goes with it."""
    MembershipFactory(organisation=demo.organisation, user=user, role=Membership.Role.CREW)
    demo_only = MembershipFactory(organisation=demo.organisation, role=Membership.Role.CREW).user
    Person.objects.create(organisation=own, name="Ann", slug="ann", user=user)
    Person.objects.create(organisation=demo.organisation, name="Ann", slug="ann", user=user)
    throw_away(organisation=demo.organisation, user=demo.user)
    assert [row.organisation for row in user.memberships.all()] == [own]
    assert Person.objects.get(user=user).organisation == own
    assert not User.objects.filter(pk__in=[demo.user.pk, demo_only.pk]).exists()
    connection.check_constraints()


@pytest.mark.skipif(connection.vendor != "postgresql", reason="runs with --database=postgresql")
@pytest.mark.django_db(transaction=True)
def test_of_two_presses_at_once_one_does_it():
    owner = MembershipFactory(organisation__invented=True, role=Membership.Role.OWNER)
    client, both = Client(raise_request_exception=False), Barrier(2)
    client.force_login(owner.user)
    cookies = client.cookies.output(header="", sep=";")
    address = f"/of/{owner.organisation.slug}{ADDRESS}"

    def press(token: str) -> int:
        other = Client(raise_request_exception=False, headers={"cookie": cookies})
        both.wait()
        try:
            return other.post(address, {"once": token}).status_code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(press, ["a" * 32, "b" * 32]))
    assert found == [302, 302]
    assert not Organisation.objects.exists() and not User.objects.exists()
