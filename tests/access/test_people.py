"""Who belongs to an organisation: roles, what is taken away and added, taking out, and that an owner stays."""

from __future__ import annotations

import re
from threading import Thread

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.urls import reverse

from farmbuild.access import people
from farmbuild.access.models import Entry, Session
from farmbuild.orgs.acts import Act, NotAllowed, Role, acts_of, who_may
from farmbuild.orgs.models import Membership, User
from farmbuild.orgs.owners import an_owner_stays
from tests.access.conftest import PASSWORD, is_in, sign_in
from tests.factories import MembershipFactory
from tests.reading import text_of
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


def member(organisation, role=Role.CREW, name="Ida Marrow", **given):
    return MembershipFactory(organisation=organisation, role=role, user__first_name=name, **given)


def row(person):
    return Membership.objects.get(pk=person.pk)


def test_the_list_says_who_is_in_and_what_differs(signed_in, organisation):
    member(organisation, Role.PLANNER, without=["send"], also=["people"], send_limit="1500")
    MembershipFactory(user__first_name="A stranger")
    said = text_of(signed_in.get(reverse("access:people")))
    assert f"2 people belong to {organisation.name}." in said
    assert "may not send orders; may also say who may do what" in said
    assert "1,500.00 USD" in said and "never" in said and "A stranger" not in said


def test_a_role_is_changed_and_its_acts_begin_anew(signed_in, organisation, user):
    person = member(organisation, Role.PLANNER, without=["send"])
    address = reverse("access:person-role", args=[person.pk])
    signed_in.post(address, {"role": "planner", "send_limit": "500"})
    assert (row(person).without, row(person).send_limit) == (["send"], 500)
    answer = signed_in.post(address, {"role": "yard", "send_limit": ""}, follow=True)
    assert "Yard: counts and moves stock" in text_of(answer)
    assert (row(person).without, row(person).send_limit) == ([], None)
    for typed, words in (
        ({"role": "king"}, "is not on the list any more"),
        ({"role": ""}, "Choose what they may do here."),
        ({"role": "yard", "send_limit": "-1"}, "Type 0 or more"),
        ({"role": "yard", "send_limit": "many"}, "Type an amount such as 500"),
    ):
        assert words in text_of(signed_in.post(address, typed)), typed
    assert row(person).role == "yard"


def test_acts_are_taken_away_and_added(signed_in, organisation):
    person = member(organisation, Role.YARD)
    address = reverse("access:person-acts", args=[person.pk])
    shown = signed_in.get(address).content.decode()
    assert len(re.findall(r"<input[^>]*checked", shown)) == 4
    signed_in.post(address, {"acts": ["see", "record", "stock", "costs"]})
    assert acts_of(organisation=organisation, user=person.user) == {Act.SEE, Act.RECORD, Act.STOCK, Act.COSTS}
    assert (row(person).without, row(person).also) == (["benders"], ["costs"])
    signed_in.post(address, {})
    assert acts_of(organisation=organisation, user=person.user) == set()


def test_nobody_takes_or_gives_what_they_may_not_do(organisation):
    """Whoever may say who does what, but nothing of settings, makes no owner and touches none."""
    lead = member(organisation, Role.PLANNER, also=["people"])
    owner, crew = member(organisation, Role.OWNER), member(organisation)
    given = {"organisation": organisation, "user": lead.user}
    for act in (
        lambda: people.set_role(**given, person=crew, role="owner"),
        lambda: people.set_role(**given, person=lead, role="owner"),
        lambda: people.set_acts(**given, person=crew, acts=["own"]),
        lambda: people.set_role(**given, person=owner, role="crew"),
        lambda: people.set_acts(**given, person=owner, acts=["see"]),
        lambda: people.take_out(**given, person=owner),
        lambda: people.end_sign_ins(**given, person=owner),
        lambda: people.make_password_link(**given, person=owner),
    ):
        with pytest.raises(ValidationError, match="You may not change settings, or end what is here yourself"):
            act()
    people.set_role(**given, person=crew, role="planner")
    assert row(crew).role == "planner" and row(owner).role == "owner"


@pytest.mark.parametrize("role", [Role.PLANNER, Role.YARD, Role.CREW, Role.LOOKS])
def test_others_reach_no_page_and_no_service(organisation, who, role):
    person, other = member(organisation, role), member(organisation)
    browser = Client()
    browser.force_login(person.user)
    for name in ("person", "person-role", "person-acts", "person-out"):
        assert browser.get(reverse(f"access:{name}", args=[other.pk])).status_code == 403, name
    for name in ("people", "people-log", "invite"):
        assert browser.get(reverse(f"access:{name}")).status_code == 403, name
    for name in ("person-role", "person-acts", "person-out", "person-end", "person-link"):
        assert browser.post(reverse(f"access:{name}", args=[other.pk]), {"role": "owner"}).status_code == 403, name
    with pytest.raises(NotAllowed):
        people.take_out(organisation=organisation, user=person.user, person=other)
    assert row(other).role == "crew"


def test_people_of_another_organisation_are_nobody_here(signed_in, who):
    stranger = MembershipFactory()
    for name in ("person", "person-role", "person-acts", "person-out"):
        assert signed_in.get(reverse(f"access:{name}", args=[stranger.pk])).status_code == 404, name
    with pytest.raises(ValidationError, match="do not belong"):
        people.take_out(**who, person=stranger)


def test_an_owner_who_can_sign_in_stays(who, organisation, user):
    own = user.memberships.get()
    member(organisation, Role.OWNER, user__is_active=False)
    for act in (
        lambda: people.take_out(**who, person=own),
        lambda: people.set_role(**who, person=own, role="planner"),
        lambda: people.set_acts(**who, person=own, acts=["see", "people"]),
    ):
        with pytest.raises(ValidationError, match="Make someone else an owner first"):
            act()
        assert row(own).role == "owner" and row(own).without == []
    other = member(organisation, Role.OWNER)
    people.take_out(**who, person=own)
    assert [person.pk for person in people.people_of(organisation=organisation) if person.pk == other.pk]


def test_taking_out_ends_what_is_signed_in_and_keeps_the_person(signed_in, organisation, user):
    person = member(organisation, user__username="ida")
    person.user.set_password(PASSWORD)
    person.user.save()
    browser, _ = sign_in(person.user)
    assert "What they recorded stays" in text_of(signed_in.get(reverse("access:person-out", args=[person.pk])))
    answer = signed_in.post(reverse("access:person-out", args=[person.pk]), follow=True)
    assert f"does not belong to {organisation.name} any more" in text_of(answer)
    assert not Session.objects.filter(user=person.user).exists()
    assert browser.get("/houses/").status_code == 302
    assert User.objects.filter(pk=person.user.pk, is_active=True).exists()
    entry = Entry.objects.get(user=person.user, what=Entry.What.TAKEN_OUT)
    assert entry.by == user
    again = signed_in.post(reverse("access:person-out", args=[person.pk]))
    assert again.status_code == 404


def test_who_belongs_elsewhere_too_stays_signed_in_there(who, organisation):
    person = member(organisation)
    MembershipFactory(user=person.user)
    browser = Client()
    browser.force_login(person.user)
    people.take_out(**who, person=person)
    assert is_in(browser)


def test_a_link_to_a_new_password(signed_in, organisation):
    person = member(organisation, user__username="ida")
    person.user.set_password("before the first frost")
    person.user.save()
    signed, _ = sign_in(person.user, "before the first frost")
    shown = signed_in.post(reverse("access:person-link", args=[person.pk]))
    assert shown["Referrer-Policy"] == "same-origin" and "no-store" in shown["Cache-Control"]
    link = re.search(r"http://testserver(/sign-in/\S+?/)<", shown.content.decode())[1]
    browser = Client()
    form = browser.get(link, follow=True)
    typed = {"new_password1": PASSWORD, "new_password2": PASSWORD}
    for weak, words in (("short", "at least 12"), ("qwerty123456", "too common"), ("123456789012", "numeric")):
        refused = browser.post(form.request["PATH_INFO"], {"new_password1": weak, "new_password2": weak})
        assert words in text_of(refused), weak
    browser.post(form.request["PATH_INFO"], typed)
    assert is_in(browser) and not is_in(signed)
    assert "does not work any more" in text_of(Client().get(link))
    kept = list(Entry.objects.filter(user=person.user).values_list("what", flat=True))
    assert {"link", "changed"} <= set(kept)


def test_no_link_to_a_sign_in_that_opens_other_doors(signed_in, organisation):
    elsewhere, keeper = member(organisation), member(organisation, user__is_staff=True)
    MembershipFactory(user=elsewhere.user)
    for person, words in ((elsewhere, "belongs to another organisation too"), (keeper, "keeps the server")):
        answer = signed_in.post(reverse("access:person-link", args=[person.pk]), follow=True)
        assert words in text_of(answer) and "/sign-in/M" not in answer.content.decode()


def test_the_second_step_is_asked_after_a_link_too(organisation, who, clock):
    from farmbuild.access import second_step

    person = member(organisation)
    step = second_step.prepare(user=person.user)
    totp = second_step.totp_of(second_step.secret_of(step))
    second_step.turn_on(user=person.user, code=totp.at(clock.now))
    clock.now += 60
    browser = Client()
    form = browser.get(people.make_password_link(**who, person=person), follow=True)
    answer = browser.post(form.request["PATH_INFO"], {"new_password1": PASSWORD, "new_password2": PASSWORD})
    assert answer["Location"] == reverse("sign-in-code") and not is_in(browser)
    browser.post(reverse("sign-in-code"), {"code": totp.at(clock.now)})
    assert is_in(browser)


def test_an_owner_signs_someone_out_and_reads_their_log(signed_in, organisation):
    person = member(organisation, user__username="ida")
    person.user.set_password(PASSWORD)
    person.user.save()
    sign_in(person.user, "a wrong guess of mine")
    browser, _ = sign_in(person.user)
    stranger = MembershipFactory(user__first_name="A stranger").user
    Client().force_login(stranger)
    said = text_of(signed_in.get(reverse("access:people-log")))
    assert "<b>Wrong password</b>, Ida Marrow" in said and "A stranger" not in said
    signed_in.post(reverse("access:person-end", args=[person.pk]))
    assert not is_in(browser)
    assert "Sign-ins ended" in text_of(signed_in.get(reverse("access:person", args=[person.pk])))


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_owners_who_take_each_other_out_at_once_leave_one(organisation):
    first, second = member(organisation, Role.OWNER), member(organisation, Role.OWNER)
    told = []

    def take_out(by, person):
        try:
            people.take_out(organisation=organisation, user=by.user, person=person)
        except (ValidationError, NotAllowed) as error:
            told.append(error)
        finally:
            connection.close()

    threads = [Thread(target=take_out, args=pair) for pair in ((first, second), (second, first))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Membership.objects.filter(organisation=organisation).count() == 1 and len(told) == 1


def close(organisation, person):
    """As the administration does."""
    with an_owner_stays([organisation]):
        User.objects.filter(pk=person.user_id).update(is_active=False)


#: Every way in which an owner may be lost, by the machine, so that only the lock and the rule are in the way.
WAYS = {
    "taken out": lambda org, person: people.take_out(organisation=org, user=None, person=person),
    "another role": lambda org, person: people.set_role(organisation=org, user=None, person=person, role="crew"),
    "without": lambda org, person: people.set_acts(organisation=org, user=None, person=person, acts=["see", "people"]),
    "closed": close,
}


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_owners_lost_at_once_in_any_way_the_second_stays(organisation):
    for one, lose in WAYS.items():
        for other, lose_too in WAYS.items():
            first, second = member(organisation, Role.OWNER), member(organisation, Role.OWNER)
            answer = comes_second(
                lambda lose=lose, person=first: lose(organisation, person),
                lambda lose=lose_too, person=second: lose(organisation, person),
            )
            assert answer == "Nobody could change settings and people then. Make someone else an owner first.", (
                one,
                other,
            )
            assert who_may(organisation=organisation, act=Act.OWN) == [second.user], (one, other)
            Membership.objects.filter(organisation=organisation).delete()
