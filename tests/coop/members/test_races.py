"""Two at once make a member a farm, in threads with connections of their own: once, or one of them is told."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.coop.members import services
from farmbuild.coop.models import MemberFarm
from farmbuild.orgs.models import Membership
from tests.factories import MemberFactory, MembershipFactory, MemberSignInFactory, OrganisationFactory

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 4


def at_once(work):
    """Results of ``work(n)`` in THREADS threads that start together; what they raise is raised here."""
    start = Barrier(THREADS, timeout=30)

    def alone(n):
        try:
            start.wait()
            return work(n)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


@pytest.fixture
def who(db):
    row = MembershipFactory(organisation=OrganisationFactory(time_zone="UTC"))
    return {"organisation": row.organisation, "user": row.user}


def tried(work) -> int:
    try:
        work()
    except ValidationError:
        return 0
    return 1


def test_a_member_that_is_moved_over_by_four_is_one_farm(who):
    member = MemberFactory(organisation=who["organisation"])
    users = [MemberSignInFactory(member=member).user for _ in range(2)]
    assert sum(at_once(lambda n: tried(lambda: services.move_over(**who, member=member)))) == 1
    assert MemberFarm.objects.get().farm.memberships.count() == len(users)


def test_members_of_one_name_at_several_cooperatives_get_farms_of_their_own():
    places = [MembershipFactory() for _ in range(THREADS)]
    members = [MemberFactory(organisation=place.organisation, name="Alder Patch") for place in places]
    for member in members:
        MemberSignInFactory(member=member)

    def work(n):
        place = places[n]
        return tried(lambda: services.move_over(organisation=place.organisation, user=place.user, member=members[n]))

    assert sum(at_once(work)) == THREADS
    assert MemberFarm.objects.values("farm__slug").distinct().count() == THREADS


def test_of_four_farms_that_take_one_card_one_is_the_member(who):
    member = MemberFactory(organisation=who["organisation"])
    digest = services.make_card(**who, member=member).invitation.digest
    farms = [MembershipFactory() for _ in range(THREADS)]

    def work(n):
        row: Membership = farms[n]
        return tried(lambda: services.take_card(organisation=row.organisation, user=row.user, digest=digest))

    assert sum(at_once(work)) == 1
    assert MemberFarm.objects.count() == 1


def test_ended_by_both_sides_at_once_ends_once(who):
    member = MemberFactory(organisation=who["organisation"])
    MemberSignInFactory(member=member)
    farm = services.move_over(**who, member=member).farm
    owner = farm.memberships.get().user

    def work(n):
        if n % 2:
            return tried(lambda: services.end_farm(**who, member=member))
        return tried(lambda: services.leave(organisation=farm, user=owner, member=member))

    assert sum(at_once(work)) == 1
