"""Whoever is signed in changes the own password."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.signing_in import signs_in

ADDRESS = "/password/"
NOW, NEW = "before the first frost", "after the last frost"


@pytest.fixture
def owner(user):
    user.set_password(NOW)
    user.save()
    return user


def signed_in_as(user, password):
    client = Client()
    return client if signs_in(client, user.username, password) else None


def typed(old=NOW, new=NEW, again=NEW):
    return {"old_password": old, "new_password1": new, "new_password2": again}


def test_it_is_changed_here_and_ended_elsewhere(owner):
    here, elsewhere = signed_in_as(owner, NOW), signed_in_as(owner, NOW)
    assert 'href="/account/"' in here.get("/houses/").content.decode()
    assert f'href="{ADDRESS}"' in here.get("/account/").content.decode()
    answer = here.post(ADDRESS, typed(), follow=True)
    assert "Your password is changed." in answer.content.decode()
    assert here.get("/houses/").status_code == 200
    assert elsewhere.get("/houses/")["Location"].startswith("/sign-in/")
    assert signed_in_as(owner, NOW) is None
    assert signed_in_as(owner, NEW)


@pytest.mark.parametrize(
    ("given", "name", "said"),
    [
        (typed(old="something else"), "old_password", "not the password that you sign in with now"),
        (typed(old=""), "old_password", "Type the password that you sign in with now."),
        (typed(again="after the last frosts"), "new_password2", "Type the same password twice."),
        (typed(new="12345678", again="12345678"), "new_password2", "numeric"),
        (typed(new="", again=""), "new_password1", "Type a password."),
    ],
)
def test_what_is_refused_changes_nothing(owner, given, name, said):
    here = signed_in_as(owner, NOW)
    answer = here.post(ADDRESS, given)
    assert any(said in each for each in answer.context["form"].errors[name])
    assert list(answer.context["form"].fields) == ["old_password", "new_password1", "new_password2"]
    assert signed_in_as(owner, NOW)


def test_nobody_signed_in_is_led_to_the_sign_in(db, client):
    assert client.get(ADDRESS)["Location"].startswith("/sign-in/")
    assert client.post(ADDRESS, typed())["Location"].startswith("/sign-in/")


def test_a_press_sent_twice_counts_once(owner):
    here = signed_in_as(owner, NOW)
    page = here.get(ADDRESS).content.decode()
    key = page.split('name="once" value="')[1].split('"')[0]
    first = here.post(ADDRESS, typed() | {"once": key})
    second = here.post(ADDRESS, typed() | {"once": key})
    assert (first.status_code, second.status_code) == (302, 302)
    assert signed_in_as(owner, NEW)
