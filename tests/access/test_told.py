"""Whose sign-in was changed is told by e-mail where one is set up; what is refused stands in the log, once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access import account, log, people, second_step
from farmbuild.access.models import Entry
from farmbuild.orgs.acts import Role
from tests.access.conftest import PASSWORD, is_in, sign_in
from tests.factories import MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def ida(organisation):
    person = MembershipFactory(
        organisation=organisation, role=Role.LOOKS, user__username="ida", user__email="ida@example.org"
    )
    person.user.set_password(PASSWORD)
    person.user.save()
    return person


def told(do, capture):
    mail.outbox.clear()
    with capture(execute=True):
        do()
    return [(message.to, message.body) for message in mail.outbox]


def test_each_change_of_a_sign_in_is_told(ida, organisation, user, settings, django_capture_on_commit_callbacks, clock):
    settings.EMAIL_HOST = "mail.example.org"
    app = second_step.totp_of(second_step.secret_of(second_step.prepare(user=ida.user)))
    for do, words in (
        (lambda: account.password_changed(user=ida.user), "Password changed"),
        (lambda: second_step.turn_on(user=ida.user, code=app.at(clock.now)), "Second step turned on"),
        (lambda: second_step.new_papers(user=ida.user), "New codes on paper made"),
        (lambda: second_step.turn_off(user=ida.user), "Second step turned off"),
        (
            lambda: people.make_password_link(organisation=organisation, user=user, person=ida),
            f"Link for a new password made, by {user.display_name}",
        ),
    ):
        ((to, body),) = told(do, django_capture_on_commit_callbacks)
        assert to == ["ida@example.org"] and words in body and "ida was changed on" in body, words
    given = {"first_name": "Ida", "email": "new@example.org"}
    ((to, body),) = told(lambda: account.save_person(user=ida.user, **given), django_capture_on_commit_callbacks)
    assert to == ["ida@example.org"] and "E-mail address changed to new@example.org" in body
    assert told(lambda: account.save_person(user=ida.user, **given), django_capture_on_commit_callbacks) == []


def test_nothing_is_told_where_no_e_mail_is_set_up_or_nothing_changed(
    ida, settings, django_capture_on_commit_callbacks
):
    settings.EMAIL_HOST = ""
    assert told(lambda: account.password_changed(user=ida.user), django_capture_on_commit_callbacks) == []
    settings.EMAIL_HOST = "mail.example.org"
    assert told(lambda: sign_in(ida.user), django_capture_on_commit_callbacks) == []


def test_what_is_refused_is_logged_once_in_a_while(ida, signed_in, monkeypatch):
    browser = Client()
    browser.force_login(ida.user)
    for _ in range(3):
        assert browser.get(reverse("plans:new")).status_code == 403
    assert browser.post(reverse("sites:site-new"), {"name": "Far"}).status_code == 403
    tick = reverse("crew:day-tick", args=[1])
    assert browser.post(tick, {"key": "k"}, headers={"accept": "application/json"}).status_code == 422
    refused = Entry.objects.filter(user=ida.user, what=Entry.What.REFUSED).order_by("pk")
    assert [row.page for row in refused] == ["/plans/new/", reverse("sites:site-new"), tick]
    later = timezone.now() + log.AGAIN + timedelta(seconds=1)
    monkeypatch.setattr(timezone, "now", lambda: later)
    browser.get(reverse("plans:new"))
    assert refused.all().count() == 4
    assert "Refused: /plans/new/" in text_of(signed_in.get(reverse("access:person", args=[ida.pk])))
    assert browser.get("/no-such-page/").status_code == 404 and refused.all().count() == 4


def test_whoever_is_not_signed_in_and_a_page_that_opens_leave_no_line(ida):
    assert Client().get(reverse("plans:new")).status_code == 302
    browser = Client()
    browser.force_login(ida.user)
    browser.get(reverse("plans:plans"))
    assert not Entry.objects.filter(what=Entry.What.REFUSED).exists()


def test_a_second_step_ends_what_was_signed_in_by_the_password_alone(ida, clock):
    (elsewhere, _), (browser, _) = sign_in(ida.user), sign_in(ida.user)
    browser.get(reverse("access:step-on"))
    app = second_step.totp_of(second_step.secret_of(second_step.step_of(user=ida.user)))
    assert "codes" in text_of(browser.post(reverse("access:step-on"), {"code": app.at(clock.now)}))
    assert is_in(browser) and not is_in(elsewhere)
