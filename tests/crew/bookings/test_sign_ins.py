"""Staff make a sign-in for a member: the link works once and for a while, and the sign-in can be shut and opened."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from farmbuild.crew.bookings import member_requests, signins
from farmbuild.crew.models import MemberSignIn
from farmbuild.orgs.models import User
from farmbuild.orgs.password_links import DAYS, password_path
from tests.crew.own import first_page, own
from tests.factories import MemberFactory, MemberSignInFactory, UserFactory
from tests.signing_in import signs_in

pytestmark = pytest.mark.django_db
PASSWORD = "seven-alder-poles"


def text_of(response) -> str:
    return " ".join(re.sub(r"<[^>]*>", "", response.content.decode()).split())


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch", slug="alder")


@pytest.fixture
def row(who, member):
    return signins.invite_member(**who, member=member, data={"name": "Ida Marrow", "username": "ida.marrow"})


def set_password(link, password=PASSWORD, again=None):
    """A browser that opened the link and sent the form, and what it was told."""
    browser = Client()
    form = browser.get(link, follow=True)
    answer = browser.post(
        form.request["PATH_INFO"], {"new_password1": password, "new_password2": again or password}, follow=True
    )
    return browser, answer


def test_from_the_members_page_to_a_member_signed_in(signed_in, member):
    page = reverse("crew:member", args=["alder"])
    assert "Nobody. With a sign-in" in text_of(signed_in.get(page))
    made = signed_in.post(reverse("crew:member-sign-in-new", args=["alder"]), {"name": "Ida", "username": "ida"})
    row = MemberSignIn.objects.get()
    assert (row.member, made["Location"]) == (member, row.get_absolute_url())
    assert (row.user.visitor, row.user.is_staff, row.user.is_superuser) == (True, False, False)
    shown = signed_in.get(made["Location"])
    assert f"It works once, for {DAYS} days from now" in text_of(shown)
    assert shown["Cache-Control"] == "private, no-store"
    link = re.search(r"http://testserver(/sign-in/\S+?/)<", shown.content.decode())[1]
    assert "Ida: the link is not used yet" in text_of(signed_in.get(page))
    browser, answer = set_password(link)
    assert answer.redirect_chain[-1][0] == first_page()
    assert "You are here for Alder Patch." in text_of(answer)
    assert "open, signed in last on" in text_of(signed_in.get(page))
    assert link not in signed_in.get(made["Location"]).content.decode()
    browser.post(reverse("sign-out"))
    answer = browser.post(reverse("sign-in"), {"username": "ida", "password": PASSWORD}, follow=True)
    assert answer.redirect_chain[-1][0] == first_page()


def test_the_link_works_once(row):
    link = signins.link_of(row)
    _, answer = set_password(link)
    assert answer.redirect_chain[-1][0] == first_page()
    assert "does not work any more" in text_of(Client().get(link))
    row.user.refresh_from_db()
    assert row.user.check_password(PASSWORD)
    assert signins.link_of(row) == ""


def test_the_link_ends_after_its_days(row, monkeypatch):
    link = signins.link_of(row)
    now = datetime.now()  # noqa: DTZ005  Django's own clock for it has no zone.
    for days, works in ((DAYS, True), (DAYS + 0.01, False)):
        monkeypatch.setattr(
            PasswordResetTokenGenerator, "_now", lambda self, d=days: now + timedelta(days=d, seconds=-5)
        )
        answer = Client().get(link, follow=True)
        assert ("Set your password" in text_of(answer)) is works, days


def test_a_wrong_link_tells_nothing(row):
    key = password_path(row.user).split("/")[2]
    for link in ("/sign-in/one/two/", f"/sign-in/{key}/two/", f"/sign-in/{key}/password/"):
        answer = Client().get(link, follow=True)
        assert "This link does not work any more" in text_of(answer), link
        assert row.user.username not in text_of(answer)


@pytest.mark.parametrize(
    ("password", "again", "words"),
    [
        ("short", None, "too short"),
        ("20272027202720", None, "entirely numeric"),
        ("ida.marrow1", None, "similar"),
        (PASSWORD, "another-one", "These are not the same"),
    ],
)
def test_a_password_that_is_refused_leaves_the_link_as_it_is(row, password, again, words):
    link = signins.link_of(row)
    _, answer = set_password(link, password, again)
    assert words in text_of(answer)
    _, answer = set_password(link)
    assert answer.redirect_chain[-1][0] == first_page()


def test_shut_signs_out_at_once_and_for_good(signed_in, who, row):
    early = signins.link_of(row)
    browser, _ = set_password(early)
    assert browser.get(own()).status_code == 200
    signed_in.post(reverse("crew:member-sign-in-shut", args=["alder", row.pk]))
    assert browser.get(own())["Location"].startswith(reverse("sign-in"))
    assert not signs_in(Client(), "ida.marrow", PASSWORD)
    row.refresh_from_db()
    assert row.shut_at
    assert signins.link_of(row) == ""
    assert "does not work" in text_of(Client().get(password_path(row.user), follow=True))
    assert "closed on" in text_of(signed_in.get(row.get_absolute_url()))
    # An account that is made active by other means is still shut.
    User.objects.filter(pk=row.user_id).update(is_active=True)
    browser.force_login(User.objects.get(pk=row.user_id))
    assert browser.get(own()).status_code == 404


def test_a_new_link_voids_the_old_one_and_the_password(signed_in, row):
    early = signins.link_of(row)
    signed_in.post(reverse("crew:member-sign-in-renew", args=["alder", row.pk]))
    assert "does not work" in text_of(Client().get(early, follow=True))
    row.user.refresh_from_db()
    browser, _ = set_password(signins.link_of(row))
    signed_in.post(reverse("crew:member-sign-in-renew", args=["alder", row.pk]))
    assert browser.get(own()).status_code == 302
    assert not signs_in(Client(), "ida.marrow", PASSWORD)


def test_a_shut_one_opens_again_by_a_new_link(who, row):
    signins.close_sign_in(**who, sign_in=row)
    signins.reopen_sign_in(**who, sign_in=row)
    row = MemberSignIn.objects.get()
    assert row.shut_at is None
    _, answer = set_password(signins.link_of(row))
    assert answer.redirect_chain[-1][0] == first_page()


def test_archiving_a_member_shuts_its_sign_ins(who, member, row):
    browser, _ = set_password(signins.link_of(row))
    member_requests.archive_member(**who, member=member)
    assert browser.get(own()).status_code == 302
    for act in (
        lambda: signins.reopen_sign_in(**who, sign_in=row),
        lambda: signins.invite_member(**who, member=member, data={"name": "Bryn", "username": "bryn"}),
    ):
        with pytest.raises(ValidationError, match="Alder Patch is archived"):
            act()
    member_requests.bring_back_member(**who, member=member)
    assert browser.get(own()).status_code == 302
    signins.reopen_sign_in(**who, sign_in=row)


def test_what_is_typed_wrong_is_said_at_its_field(signed_in, member, user):
    address = reverse("crew:member-sign-in-new", args=["alder"])
    for sent, field, words in (
        ({"name": "", "username": "ida"}, "name", "Type the name of the person"),
        ({"name": "Ida", "username": ""}, "username", "Type what the person signs in as"),
        ({"name": "Ida", "username": "ida marrow"}, "username", "letters, numbers"),
        ({"name": "Ida", "username": user.username.upper()}, "username", "signs in as"),
    ):
        page = signed_in.post(address, sent)
        assert list(page.context["form"].errors) == [field]
        assert words in page.context["form"].errors[field][0]
    assert not MemberSignIn.objects.exists()
    assert User.objects.filter(visitor=True).count() == 0


def test_only_staff_of_the_same_organisation(signed_in, who):
    strange = MemberSignInFactory()
    for name in ("member-sign-in", "member-sign-in-renew", "member-sign-in-shut"):
        address = reverse(f"crew:{name}", args=[strange.member.slug, strange.pk])
        assert signed_in.get(address).status_code in (404, 405)
        assert signed_in.post(address).status_code in (404, 405)
    assert signed_in.get(reverse("crew:member-sign-in-new", args=[strange.member.slug])).status_code == 404
    with pytest.raises(ValidationError):
        signins.invite_member(**who, member=strange.member, data={"name": "Ida", "username": "ida"})
    for act in (signins.reopen_sign_in, signins.close_sign_in):
        with pytest.raises(MemberSignIn.DoesNotExist):
            act(**who, sign_in=strange)
    strange.refresh_from_db()
    assert strange.shut_at is None


def test_one_user_is_of_one_member(organisation, row):
    other = MemberFactory(organisation=organisation)
    with pytest.raises(IntegrityError), transaction.atomic():
        MemberSignIn.objects.create(organisation=organisation, member=other, user=row.user)


def test_a_visitor_of_no_member_has_no_page(client):
    client.force_login(UserFactory(visitor=True))
    assert client.get(reverse("crew:own-before")).status_code == 404
    assert client.post(reverse("sign-out")).status_code == 302
