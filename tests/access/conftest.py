"""A clock that tests move, and people with passwords."""

from __future__ import annotations

import time
from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.access import half, middleware, second_step, signins

PASSWORD = "after the last frost"


@pytest.fixture
def person(user):
    user.set_password(PASSWORD)
    user.save()
    return user


@pytest.fixture
def clock(monkeypatch):
    """Seconds for codes and for how long sign-ins last; ``clock.now`` moves it."""
    hands = SimpleNamespace(now=time.time())
    for module in (half, middleware, second_step, signins):
        monkeypatch.setattr(module, "time", SimpleNamespace(time=lambda: hands.now))
    return hands


def sign_in(user, password=PASSWORD, **headers):
    """A browser that has sent name and password, and what it was answered."""
    browser = Client(**headers)
    answer = browser.post(reverse("sign-in"), {"username": user.username, "password": password})
    return browser, answer


def is_in(browser):
    return browser.get("/account/").status_code == 200
