"""Two who make a recipe or a bender of one name at once get an address each, or the second is told of the name."""

from __future__ import annotations

import pytest

from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.services import create_bender
from farmbuild.hoops.recipes.services import create_recipe
from tests.factories import FOOT, INCH, MaterialFactory
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


def test_a_recipe(who):
    data = {
        "tube": MaterialFactory(organisation=who["organisation"]),
        "stick_length": FOOT * 10,
        "sticks": 2,
        "insertion": INCH * 4,
        "radius": INCH * 76,
        "first_mark": INCH * 9,
        "pitch": INCH * 18,
    }

    def create(name):
        return lambda: create_recipe(**who, data=data | {"name": name, "slug": "hoop"}).slug

    assert comes_second(create("North hoop"), create("South hoop")) == "hoop-2"


def test_a_bender(who):
    def create(name):
        data = {"name": name, "slug": "yard", "rated_radius": INCH * 76, "rated_span": FOOT * 12, "tubes": []}
        return lambda: create_bender(**who, data=data).slug

    assert comes_second(create("North bender"), create("South bender")) == "yard-2"
    assert Bender.objects.count() == 2
