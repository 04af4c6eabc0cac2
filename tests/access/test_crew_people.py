"""One of the people of a crew gets a card, and whoever takes it is that person and sees a day's work."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.access import people
from farmbuild.access.models import Invitation
from farmbuild.crew.models import Person
from farmbuild.orgs.acts import Act, Role, acts_of
from farmbuild.orgs.models import Membership
from tests.access.conftest import PASSWORD
from tests.factories import MembershipFactory, PersonFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
TYPED = {"name": "Ida M.", "username": "ida", "password": PASSWORD}


@pytest.fixture
def person(organisation):
    return PersonFactory(crew__organisation=organisation, name="Ida Marrow", slug="ida-marrow")


def test_from_the_page_of_a_person_to_their_own_day(signed_in, organisation, user, person):
    page = reverse("crew:person", args=[person.slug])
    assert "Give a sign-in" in text_of(signed_in.get(page))
    card = signed_in.post(reverse("crew:person-invite", args=[person.slug]), follow=True)
    path = re.search(r"http://testserver(/join/[^/\s]{43}/)<", card.content.decode())[1]
    browser = Client()
    browser.get(path)
    browser.post(reverse("access:join"), TYPED)
    person.refresh_from_db()
    assert person.user.username == "ida"
    assert acts_of(organisation=organisation, user=person.user) == {Act.RECORD}
    assert browser.get(reverse("crew:day")).status_code == 200
    assert "Give a sign-in" not in text_of(signed_in.get(page))
    again = signed_in.post(reverse("crew:person-invite", args=[person.slug]), follow=True)
    assert "Ida Marrow signs in already." in text_of(again)
    # Taken out, the person stays with what they did, and may be invited again.
    people.take_out(organisation=organisation, user=user, person=person.user.memberships.get())
    person.refresh_from_db()
    assert person.user is None and person.archived_at is None
    assert "Give a sign-in" in text_of(signed_in.get(page))


def test_who_joins_as_something_else_is_none_of_the_crew(signed_in, person):
    signed_in.post(reverse("access:invite"), {"name": person.name, "role": "planner", "days": "7"})
    from farmbuild.access.invitations import take_as_new

    take_as_new(digest=Invitation.objects.get().digest, **TYPED)
    person.refresh_from_db()
    assert person.user is None and Membership.objects.get(user__username="ida").role == Role.PLANNER


def test_only_who_may_say_who_does_what_gives_a_sign_in(organisation, person):
    browser = Client()
    browser.force_login(MembershipFactory(organisation=organisation, role=Role.PLANNER).user)
    assert browser.post(reverse("crew:person-invite", args=[person.slug])).status_code == 403
    assert not Invitation.objects.exists() and Person.objects.get(pk=person.pk).user is None
