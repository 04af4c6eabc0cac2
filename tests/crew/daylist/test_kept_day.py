"""The list of a day is made once while nothing is pressed, and its forms are told from one another all the same."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from farmbuild.crew.models import Actual
from tests.crew.daylist.test_ticks import a_day, press

pytestmark = pytest.mark.django_db


def tokens(html):
    return re.findall(r'name="(?:once|key)" value="(\w[^"]*)"', html)


def test_each_opening_has_tokens_of_its_own_and_shows_what_was_pressed(signed_in, organisation):
    person, task = a_day(organisation)
    address = f"{reverse('crew:day')}?person={person.slug}"
    first, second = (signed_in.get(address).content.decode() for _ in range(2))
    found = tokens(first) + tokens(second)
    assert len(found) == len(set(found)) > 6
    assert re.sub(r'value="[^"]*"', "", first) == re.sub(r'value="[^"]*"', "", second)
    press(person, task, "start")
    begun = signed_in.get(address).content.decode()
    assert 'data-fresh="idle"' in second and 'data-fresh="running"' in begun
    # A form that was sent with a mistake comes back with its own key, by which sending it again counts once.
    key = re.search(r'name="key" value="([^"]+)"', begun)[1]
    sent = {"key": key, "person": person.slug, "what": "done", "done": "many", "once": "0" * 32}
    answer = signed_in.post(reverse("crew:day-tick", args=[task.pk]), sent)
    assert answer.status_code == 422
    assert f'name="key" value="{key}"' in answer.content.decode()
    assert Actual.objects.count() == 1
