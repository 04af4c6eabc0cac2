"""Wrong guesses are slowed down by name and by address, all is kept, and whoever is at the machine lets in again."""

from __future__ import annotations

import re
from datetime import timedelta
from threading import Thread

import pytest
from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.conf import settings as project
from django.core.management import call_command
from django.db import connection
from django.db.models import F
from django.test import Client
from django.urls import reverse

from tests.reading import text_of
from tests.signing_in import signs_in

RIGHT, WRONG = "after the last frost", "before the first frost"
HERE, THERE = "192.0.2.10", "198.51.100.7"  # RFC 5737: addresses for examples


@pytest.fixture
def person(user):
    user.set_password(RIGHT)
    user.save()
    return user.username


def tries(name, number=10, address=HERE):
    return [signs_in(Client(), name, WRONG, REMOTE_ADDR=address) for _ in range(number)]


def answer(name, password=RIGHT, **more):
    return Client().post(reverse("sign-in"), {"username": name, "password": password}, **more)


def test_ten_wrong_tries_rest_a_name_for_a_quarter_of_an_hour(person):
    assert not any(tries(person, 9))
    assert signs_in(Client(), person, RIGHT, REMOTE_ADDR=HERE)
    # Signing in begins the count anew.
    assert not any(tries(person, 10))
    refused = answer(person, REMOTE_ADDR=THERE)
    assert refused.status_code == 429
    assert "Too many wrong tries. Wait 15 minutes, then try again." in text_of(refused)
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(minutes=14))
    assert not signs_in(Client(), person, RIGHT, REMOTE_ADDR=THERE)
    # Trying meanwhile makes it no longer.
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(minutes=2))
    assert signs_in(Client(), person, RIGHT, REMOTE_ADDR=THERE)


def test_ten_wrong_tries_of_any_names_rest_an_address(person):
    for number in range(10):
        assert not signs_in(Client(), f"guess-{number}", WRONG, REMOTE_ADDR=THERE)
    assert answer(person, REMOTE_ADDR=THERE).status_code == 429
    assert signs_in(Client(), person, RIGHT, REMOTE_ADDR=HERE)


def _said(page, name):
    """Without what was typed and the token, which is another each time."""
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", page.content.decode()).replace(name, "")


def test_nothing_tells_whether_a_name_exists(person):
    said = [_said(answer(name, WRONG), name) for name in (person, "nobody-at-all")]
    assert said[0] == said[1]
    tries(person)
    tries("nobody-at-all", 10, THERE)
    said = [_said(answer(name, REMOTE_ADDR="203.0.113.9"), name) for name in (person, "nobody-at-all")]
    assert said[0] == said[1] and "Too many" in said[0]


@pytest.mark.parametrize("command", [("axes_reset_username", "{}"), ("axes_reset",)])
def test_whoever_is_at_the_machine_lets_in_again(person, command):
    tries(person)
    assert not signs_in(Client(), person, RIGHT, REMOTE_ADDR=THERE)
    call_command(*(word.format(person) for word in command))
    assert signs_in(Client(), person, RIGHT, REMOTE_ADDR=THERE)


def test_behind_a_web_server_its_own_word_counts(person, settings):
    """What a browser says of itself is before the last comma, and changes nothing."""
    settings.BEHIND_PROXY = True
    for number in range(10):
        seen = f"203.0.113.{number}, {THERE}"
        assert not signs_in(Client(), f"guess-{number}", WRONG, REMOTE_ADDR=HERE, HTTP_X_FORWARDED_FOR=seen)
    assert answer(person, REMOTE_ADDR=HERE, HTTP_X_FORWARDED_FOR=THERE).status_code == 429
    assert signs_in(Client(), person, RIGHT, REMOTE_ADDR=HERE, HTTP_X_FORWARDED_FOR="203.0.113.200")


@pytest.mark.parametrize("seen", [{}, {"HTTP_X_FORWARDED_FOR": "unknown"}, {"HTTP_X_FORWARDED_FOR": "203.0.113.7:99"}])
def test_a_web_server_that_says_no_address_shuts_nobody_out(person, settings, seen):
    """Everybody comes from the address of that server; a stranger's tries are counted by name alone."""
    settings.BEHIND_PROXY = True
    for number in range(11):
        assert answer(f"guess-{number}", WRONG, REMOTE_ADDR=HERE, **seen).status_code == 200
    assert signs_in(Client(), person, RIGHT, REMOTE_ADDR=HERE, **seen)
    for _ in range(10):
        signs_in(Client(), person, WRONG, REMOTE_ADDR=HERE, **seen)
    assert answer(person, REMOTE_ADDR=HERE, **seen).status_code == 429


def test_without_one_nobody_says_where_they_are(person):
    for number in range(10):
        signs_in(Client(), f"guess-{number}", WRONG, REMOTE_ADDR=THERE, HTTP_X_FORWARDED_FOR=f"203.0.113.{number}")
    assert answer(person, REMOTE_ADDR=THERE, HTTP_X_FORWARDED_FOR="203.0.113.77").status_code == 429


def test_every_try_is_kept_without_what_was_typed_as_password(person):
    tries(person, 2)
    signs_in(Client(), person, RIGHT, REMOTE_ADDR=THERE)
    kept = AccessFailureLog.objects.values_list("username", "ip_address", "locked_out")
    assert list(kept) == [(person, HERE, False)] * 2
    assert list(AccessLog.objects.values_list("username", "ip_address")) == [(person, THERE)]
    for row in (*AccessFailureLog.objects.values_list(), *AccessAttempt.objects.values_list()):
        assert WRONG not in str(row) and RIGHT not in str(row)


@pytest.mark.parametrize(("password", "said"), [("a" * 11, "at least 12"), ("1" * 12, "numeric")])
def test_a_password_has_twelve_signs(client, user, password, said):
    client.force_login(user)
    user.set_password(RIGHT)
    user.save()
    client.force_login(user)
    typed = {"old_password": RIGHT, "new_password1": password, "new_password2": password}
    assert said in text_of(client.post("/password/", typed))
    assert f"{project.MIN_PASSWORD} letters, figures or signs" in text_of(client.get("/password/"))


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_guesses_at_once_are_all_counted(person):
    def guess():
        try:
            tries(person, 2)
        finally:
            connection.close()

    threads = [Thread(target=guess) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(AccessAttempt.objects.values_list("failures_since_start", flat=True)) >= 10
    assert answer(person).status_code == 429
