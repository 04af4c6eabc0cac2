"""Each step has its people and its cautions: on the task, on the list of a day, and in short on the sheet of a week."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest

from farmbuild.crew.bridge import STEPS
from farmbuild.crew.models import Kind, Task
from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS
from tests.factories import HouseFactory, PersonFactory

pytestmark = pytest.mark.django_db

START = datetime(2087, 1, 6, 9, tzinfo=UTC)
#: Written by hand from the order of the work (common practice, no source): what can hurt someone at each step.
DANGERS: dict[str, set[str]] = {
    "Survey and mark out": {"posts"},
    "Saw pieces": {"cutting"},
    "Ground posts": {"posts", "eyes"},
    "Mark sticks": {"eyes"},
    "Trial hoop": {"pipe", "eyes"},
    "Bend the batch": {"pipe", "eyes"},
    "Join and screw": {"cutting"},
    "Set and spring in": {"pipe", "posts"},
    "Sight and adjust": {"ladder", "pipe"},
    "Ridge and purlins": {"ladder", "cutting"},
    "Hip boards": {"cutting"},
    "Base boards": {"cutting"},
    "End walls": {"ladder", "cutting"},
    "Anchors": {"posts"},
    "Film": {"wind", "ladder"},
}


@pytest.fixture
def person(organisation):
    return PersonFactory(crew__organisation=organisation, slug="ash")


@pytest.fixture
def task(organisation, person):
    house = HouseFactory(organisation=organisation, site__organisation=organisation)

    def make(kind: str) -> Task:
        when = {"starts_at": START, "ends_at": START + timedelta(hours=3)}
        return Task.objects.create(organisation=organisation, house=house, kind=kind, crew=person.crew, **when)

    return make


def told(html: str) -> set[str]:
    return set(re.findall(r"<p><strong>Caution: ([^<]+)\.</strong>", html))


def abouts(kinds: set[str]) -> set[str]:
    return {CAUTIONS[kind].about for kind in kinds}


def test_every_step_of_the_list_is_here_in_its_order():
    assert list(DANGERS) == [Kind(step.kind).label for step in STEPS]


def test_two_set_the_hoops_and_three_sight_them_one_of_them_high():
    steps = {step.kind.value: step for step in STEPS}
    assert (steps["set"].people, steps["set"].high) == (2, False)
    assert (steps["sight"].people, steps["sight"].high) == (3, True)
    high = {kind for kind, step in steps.items() if step.high}
    assert high == {kind for kind in steps if "ladder" in DANGERS[Kind(kind).label]}


def test_the_words_name_what_they_are_about():
    assert "buried" in CAUTIONS["posts"].words and "overhead lines" in CAUTIONS["posts"].words
    assert "gloves and eye protection" in CAUTIONS["pipe"].words
    assert "eye protection and gloves" in CAUTIONS["eyes"].words
    assert "hold the foot" in CAUTIONS["ladder"].words
    assert "calm air" in CAUTIONS["wind"].words


@pytest.mark.parametrize("kind", Kind.values)
def test_a_step_carries_its_cautions_to_each_place(signed_in, task, kind):
    found = task(kind)
    wanted = DANGERS[Kind(kind).label]
    general = abouts({"general"})
    assert told(signed_in.get(f"/crew/tasks/{found.pk}/").content.decode()) == abouts(wanted)
    day = signed_in.get("/crew/day/", {"person": "ash", "day": "2087-01-06"}).content.decode()
    assert told(day) == abouts(wanted)
    assert unescape(day).count(ALWAYS) == 1
    week = signed_in.get("/crew/week/2087-01-06/").content.decode()
    assert told(week) == abouts(wanted) | general
    row = re.search(r"<tbody.*?</tbody>", week, re.DOTALL).group()
    assert all(CAUTIONS[name].short in row for name in wanted)
    assert not any(CAUTIONS[name].short in row for name in CAUTIONS.keys() - wanted - {"eyes"})
