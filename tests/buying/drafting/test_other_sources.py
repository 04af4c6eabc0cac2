"""Which other pieces a house gets where a line that it holds goes: no later than before, and the farm's own."""

from __future__ import annotations

from datetime import timedelta

import pytest

from farmbuild.buying.drafting import services
from farmbuild.stock.models import Lot
from tests.buying.drafting.test_cover import saved
from tests.factories import LotFactory, MemberFactory
from tests.plans.test_holds_by_need import Held

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def line(yard, organisation, user):
    """20 rails, held by a house that needs them five days before they come."""
    made = yard.line(yard.order(), 20)
    Held(organisation, user).hold(20, yard.day - 5 * DAY, line=made.pk)
    return made


def test_another_line_that_comes_as_late_is_as_good_and_a_later_one_is_not(yard, line):
    same, later = yard.line(line.order, 10), yard.line(line.order, 10, need_by=yard.day + DAY)
    told = saved(services.remove_line, **yard.who, order=line.order, line=line)
    assert told[0].startswith("10 sticks for North are then held of order H1 line 2")
    assert told[1].startswith("North is then short 10 sticks")
    same.refresh_from_db(), later.refresh_from_db()
    assert (same.reserved, later.reserved) == (10, 0)


def test_free_pieces_of_a_member_are_not_held_instead(yard, line, organisation):
    theirs = LotFactory(
        organisation=organisation,
        material=line.material,
        length=line.length,
        on_hand=20,
        unit_cost=0,
        owner=MemberFactory(organisation=organisation),
    )
    [told] = saved(services.remove_line, **yard.who, order=line.order, line=line)
    assert told.startswith("North is then short 20 sticks")
    assert Lot.objects.get(pk=theirs.pk).reserved == 0
