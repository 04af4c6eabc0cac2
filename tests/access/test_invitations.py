"""Invitations: a link and a card, each once, for some days; taken by somebody new or by somebody signed in."""

from __future__ import annotations

import re
from datetime import timedelta
from threading import Thread

import pytest
from django.core import mail as outbox
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access import cards, invitations
from farmbuild.access.codes import plain
from farmbuild.access.models import Entry, Invitation
from farmbuild.orgs.acts import Act, Role, acts_of
from farmbuild.orgs.models import Membership, User
from tests.access.conftest import PASSWORD, is_in, sign_in
from tests.factories import MembershipFactory, UserFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
TYPED = {"name": "Ida Marrow", "username": "ida", "password": PASSWORD}


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def handed(who):
    return invitations.invite(**who, name="Ida", role="crew")


def link(handed):
    return reverse("access:join-link", args=[handed.token])


def opened(handed):
    """A browser that has opened the link, and what it is shown."""
    browser = Client()
    return browser, browser.get(link(handed), follow=True)


def test_from_the_page_of_people_to_a_new_person(signed_in, organisation):
    assert "Invite someone" in text_of(signed_in.get(reverse("access:people")))
    sent = {"name": "Ida", "role": "yard", "days": "7"}
    shown = signed_in.post(reverse("access:invite"), sent, follow=True)
    said = shown.content.decode()
    path = re.search(r"http://testserver(/join/[^/\s]{43}/)<", said)[1]
    assert re.search(r'class="spoken">\w{4}-\w{4}<', said) and "<svg" in said
    assert shown["Referrer-Policy"] == "same-origin"
    assert "<td" in text_of(signed_in.get(reverse("access:people"))) and "Invited, not here yet" in text_of(
        signed_in.get(reverse("access:people"))
    )
    browser = Client()
    page = browser.get(path, follow=True)
    assert page.redirect_chain[-1][0] == reverse("access:join")
    assert f"Join {organisation.name}" in text_of(page) and "Yard: counts and moves stock" in text_of(page)
    answer = browser.post(reverse("access:join"), TYPED, follow=True)
    assert f"You belong to {organisation.name} now." in text_of(answer)
    person = Membership.objects.get(user__username="ida")
    assert (person.organisation, person.role) == (organisation, "yard")
    assert is_in(sign_in(person.user)[0])
    again = Client().get(path, follow=True)
    assert "This invitation was used already. Ask" in text_of(again)


def test_neither_link_nor_code_is_kept(handed):
    row = str(vars(Invitation.objects.get()))
    assert handed.token not in row and handed.code not in row and plain(handed.code) not in row


def test_the_link_is_shown_to_whoever_made_it_for_a_while(signed_in, organisation):
    shown = signed_in.post(reverse("access:invite"), {"name": "Ida", "role": "crew", "days": "7"}, follow=True)
    address = shown.redirect_chain[-1][0]
    assert "/join/" in signed_in.get(address).content.decode()
    other = Client()
    other.force_login(MembershipFactory(organisation=organisation).user)
    assert "are not kept here" in text_of(other.get(address)) and "/join/" not in other.get(address).content.decode()
    cookie = next(one for name, one in signed_in.cookies.items() if name.startswith("invitation-"))
    assert cookie["httponly"] and cookie["samesite"] == "Strict" and cookie["path"].endswith(address)
    before = signed_in.get(address).content.decode()
    signed_in.post(f"{address}renew/")
    after = signed_in.get(address).content.decode()
    found = [re.search(r"/join/([^/\s]{43})/", page)[1] for page in (before, after)]
    assert found[0] != found[1]
    assert Client().get(reverse("access:join-link", args=[found[0]])).status_code == 404


def test_a_card_for_whoever_has_no_e_mail(handed):
    browser = Client()
    typed = f" {handed.code.lower().replace('-', ' ')}"
    page = browser.post(reverse("access:join-code"), {"code": typed}, follow=True)
    assert page.redirect_chain[-1][0] == reverse("access:join")
    browser.post(reverse("access:join"), TYPED)
    assert is_in(browser)
    used = Client().post(reverse("access:join-code"), {"code": handed.code}, follow=True)
    assert "used already" in text_of(used)


def test_wrong_codes_are_throttled_by_address_and_altogether(handed, monkeypatch):
    address = reverse("access:join-code")

    def tries(number, at="192.0.2.10", code="AAAA-AAAA"):
        return [Client(REMOTE_ADDR=at).post(address, {"code": code}) for _ in range(number)][-1]

    assert "no such invitation" in text_of(tries(10))
    assert "Too many wrong codes. Wait 15 minutes" in text_of(tries(1, code=handed.code))
    assert tries(1, at="198.51.100.7", code=handed.code).status_code == 302
    Entry.objects.update(at=timezone.now() - timedelta(minutes=16))
    assert tries(1, code=handed.code).status_code == 302
    monkeypatch.setattr(cards, "WRONG_ANYWHERE", 3)
    for number in range(3):
        tries(1, at=f"203.0.113.{number}")
    assert "Too many" in text_of(tries(1, at="203.0.113.77", code=handed.code))


def test_whoever_is_signed_in_joins_with_the_sign_in_there_is(handed, organisation):
    person = MembershipFactory().user
    browser = Client()
    browser.force_login(person)
    page = browser.get(link(handed), follow=True)
    assert f"Join as {person.display_name}" in text_of(page)
    browser.post(reverse("access:join"))
    assert acts_of(organisation=organisation, user=person) == {Act.RECORD}
    assert person.memberships.count() == 2


def test_a_name_that_signs_in_already_goes_by_the_sign_in(handed, person):
    browser, page = opened(handed)
    assert f'href="{reverse("sign-in")}?next={reverse("access:join")}"' in page.content.decode()
    other = MembershipFactory().user
    other.set_password(PASSWORD)
    other.save()
    typed = {"username": other.username, "password": PASSWORD, "next": reverse("access:join")}
    answer = browser.post(reverse("sign-in"), typed, follow=True)
    assert f"Join as {other.display_name}" in text_of(answer)


def test_who_is_in_already_leaves_it_to_another(handed, user):
    browser = Client()
    browser.force_login(user)
    browser.get(link(handed))
    assert "Leave the invitation to Ida." in text_of(browser.post(reverse("access:join")))
    assert Invitation.objects.get().taken_at is None


def test_a_visitor_takes_none(handed):
    with pytest.raises(ValidationError, match="for your bookings alone"):
        invitations.take_as(user=UserFactory(visitor=True), digest=handed.invitation.digest)


@pytest.mark.parametrize(
    ("change", "name", "words"),
    [
        ({"name": ""}, "name", "Type your name."),
        ({"username": "ida marrow"}, "username", "without spaces"),
        ({"username": "OWNER-0"}, "username", "Someone signs in as OWNER-0 already."),
        ({"password": "short"}, "password", "at least 12"),
        ({"password": "qwerty123456"}, "password", "too common"),
        ({"password": "ida-ida-ida-x"}, "password", "too similar"),
    ],
)
def test_what_is_refused_says_why_and_takes_nothing(handed, change, name, words):
    UserFactory(username="owner-0")
    typed = TYPED | change
    if "similar" in words:
        typed |= {"username": "ida-ida-ida"}
    browser, _ = opened(handed)
    answer = browser.post(reverse("access:join"), typed)
    assert any(words in each for each in answer.context["form"].errors[name])
    assert not User.objects.filter(username="ida").exists() and Invitation.objects.get().taken_at is None


def test_withdrawn_over_and_renewed_each_in_words(handed, who, signed_in):
    early, _ = opened(handed)
    signed_in.post(reverse("access:invitation-withdraw", args=[handed.invitation.pk]))
    assert "This invitation was withdrawn. Ask" in text_of(opened(handed)[1])
    # Who had the form open already is told too.
    assert "was withdrawn" in text_of(early.post(reverse("access:join"), TYPED))
    fresh = invitations.renew(**who, invitation=handed.invitation, days=2)
    assert opened(handed)[1].status_code == 404
    browser, page = opened(fresh)
    assert "Join" in text_of(page)
    Invitation.objects.update(ends_at=timezone.now() - timedelta(seconds=1))
    assert "The days of this invitation are over." in text_of(browser.post(reverse("access:join"), TYPED))
    assert "Its days were over" in text_of(signed_in.get(reverse("access:invitation", args=[handed.invitation.pk])))
    with pytest.raises(ValidationError, match="does not work any more"):
        invitations.take_as_new(digest="of another", **TYPED)
    assert not User.objects.filter(username="ida").exists()


def test_one_that_was_taken_is_neither_withdrawn_nor_renewed(handed, who):
    invitations.take_as_new(digest=handed.invitation.digest, **TYPED)
    for act in (invitations.withdraw, invitations.renew):
        with pytest.raises(ValidationError, match="Ida Marrow has taken it already"):
            act(**who, invitation=handed.invitation)


def test_nobody_invites_to_more_than_they_may_do(organisation):
    lead = MembershipFactory(organisation=organisation, role=Role.PLANNER, also=["people"]).user
    with pytest.raises(ValidationError, match="so you cannot invite to it"):
        invitations.invite(organisation=organisation, user=lead, name="Ida", role="owner")
    owner = invitations.invite(organisation=organisation, user=None, name="Ida", role="owner")
    with pytest.raises(ValidationError, match="so you cannot invite to it"):
        invitations.renew(organisation=organisation, user=lead, invitation=owner.invitation)


@pytest.mark.parametrize("days", ["0", "61", "x", ""])
def test_days_are_asked_for_in_words(signed_in, days):
    answer = signed_in.post(reverse("access:invite"), {"name": "Ida", "role": "crew", "days": days})
    assert "Type how many days it lasts" in text_of(answer) and not Invitation.objects.exists()


def test_invitations_of_others_are_not_there(signed_in, handed):
    stranger = MembershipFactory()
    other = invitations.invite(organisation=stranger.organisation, user=stranger.user, name="Tom", role="crew")
    for name in ("invitation", "invitation-renew", "invitation-withdraw"):
        address = reverse(f"access:{name}", args=[other.invitation.pk])
        assert (signed_in.get if name == "invitation" else signed_in.post)(address).status_code == 404, name
    assert "Tom" not in text_of(signed_in.get(reverse("access:people")))


def test_without_e_mail_nothing_is_sent_and_the_page_says_whom_to_ask(signed_in, settings):
    settings.EMAIL_HOST = ""
    assert "id_email" not in signed_in.get(reverse("access:invite")).content.decode()
    assert "Ask an owner of your organisation" in text_of(Client().get(reverse("forgotten")))
    Client().post(reverse("forgotten"), {"name": "anybody"})
    assert outbox.outbox == []


def test_with_e_mail_the_invitation_goes_out(signed_in, settings):
    settings.EMAIL_HOST = "mail.example.org"
    sent = {"name": "Ida", "role": "crew", "days": "7", "email": "ida@example.org"}
    answer = signed_in.post(reverse("access:invite"), sent, follow=True)
    assert "It was sent to ida@example.org." in text_of(answer)
    (message,) = outbox.outbox
    path = re.search(r"http://testserver(/join/\S{43}/)\n", message.body)[1]
    assert message.to == ["ida@example.org"] and "it works once" in message.body
    browser = Client()
    browser.get(path)
    browser.post(reverse("access:join"), TYPED)
    assert User.objects.get(username="ida").email == "ida@example.org"


def test_mail_that_cannot_be_sent_leaves_the_link(signed_in, settings):
    settings.EMAIL_HOST, settings.EMAIL_BACKEND = "127.0.0.1", "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_PORT = 1
    sent = {"name": "Ida", "role": "crew", "days": "7", "email": "ida@example.org"}
    answer = signed_in.post(reverse("access:invite"), sent, follow=True)
    assert "It could not be sent to ida@example.org. Hand it over." in text_of(answer)
    assert "/join/" in answer.content.decode() and Invitation.objects.count() == 1


def test_a_forgotten_password_tells_nothing_of_who_is_there(person, settings):
    settings.EMAIL_HOST = "mail.example.org"
    User.objects.filter(pk=person.pk).update(email="ida@example.org")

    def asked(name):
        page = Client().post(reverse("forgotten"), {"name": name}).content.decode()
        return re.sub(r'value="\w+"', "", page)

    said = {asked(name) for name in (person.username, "IDA@example.org", "nobody", "x@example.org")}
    assert len(said) == 1 and len(outbox.outbox) == 2
    path = re.search(r"http://testserver(/sign-in/\S+/)\n", outbox.outbox[0].body)[1]
    browser = Client()
    form = browser.get(path, follow=True)
    new = "before the first frost"
    browser.post(form.request["PATH_INFO"], {"new_password1": new, "new_password2": new})
    assert is_in(browser)
    assert "does not work any more" in text_of(Client().get(path))
    for _ in range(5):
        asked(person.username)
    assert len(outbox.outbox) == 3


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_who_take_it_at_once_are_one(handed):
    told = []

    def take(number):
        try:
            invitations.take_as_new(digest=handed.invitation.digest, **TYPED | {"username": f"ida-{number}"})
            told.append("in")
        except ValidationError as error:
            told.append(error.messages[0])
        finally:
            connection.close()

    threads = [Thread(target=take, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told.count("in") == 1 and sum("used already" in words for words in told) == 3
    assert User.objects.filter(username__startswith="ida-").count() == 1
