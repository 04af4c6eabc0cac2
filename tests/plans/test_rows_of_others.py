"""Another organisation's plans, houses and holds are out of reach of every service."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.exceptions import ObjectDoesNotExist, ValidationError

from farmbuild.plans import services
from farmbuild.plans.accepting import accept_plan, release_house, release_plan
from farmbuild.plans.models import Plan
from farmbuild.plans.reserving import swapping
from farmbuild.plans.seasonend.services import scrap_offcuts
from farmbuild.stock.cutting import cut_reserved
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.selectors import reservations_of, reserved_by_others
from tests.factories import HouseFactory, LotFactory, MaterialFactory, MembershipFactory, SiteFactory
from tests.plans.test_accepting import held

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(season, user):
    return {"organisation": season.organisation, "user": user}


@pytest.fixture
def stranger():
    member = MembershipFactory()
    return {"organisation": member.organisation, "user": member.user}


def test_a_plan_is_of_our_own_houses_and_sites(season, user, stranger):
    site = SiteFactory(organisation=stranger["organisation"])
    for given, field in (
        ({"delivery_site": site}, "delivery_site"),
        ({"houses": [*season.houses, HouseFactory(site=site)]}, "houses"),
    ):
        with pytest.raises(ValidationError) as told:
            services.create_plan(**season.ask(user, **given))
        assert list(told.value.message_dict) == [field]
    assert not Plan.objects.exists()


def test_their_plan_is_not_accepted_released_cut_or_swapped(season, who, stranger, ready):
    def refused(work):
        with pytest.raises((ObjectDoesNotExist, ValidationError)):
            work()

    refused(lambda: accept_plan(**stranger, plan=ready))
    assert not Reservation.objects.exists()
    accept_plan(**who, plan=ready)
    before, post = held(), Reservation.objects.filter(lot__isnull=False, pieces__isnull=False).first()
    one, other = Reservation.objects.values_list("pk", flat=True)[:2]
    refused(lambda: release_plan(**stranger, plan=ready))
    refused(lambda: release_house(**stranger, house=season.houses[0]))
    refused(lambda: cut_reserved(**stranger, reservation=post, sticks=1))
    with pytest.raises(ValidationError, match="Someone changed one of these holds"):
        swapping.swap(**stranger, waiting=one, held=other, quantity=1, seen="", today=date(2027, 3, 1))
    assert held() == before
    assert not reservations_of(organisation=stranger["organisation"])
    assert reserved_by_others(organisation=stranger["organisation"], houses=[]) == ({}, {})
    lots, lines = reserved_by_others(organisation=who["organisation"], houses=[])
    assert sum(lots.values()) + sum(lines.values()) == before


def test_their_offcuts_are_not_scrapped(who, stranger):
    lot = LotFactory(material=MaterialFactory(organisation=stranger["organisation"]), offcut=True)
    with pytest.raises(ValidationError, match="are no offcuts in stock any more"):
        scrap_offcuts(**who, takes=[(lot.pk, 1)], reason="short")
    lot.refresh_from_db()
    assert lot.on_hand == 20
