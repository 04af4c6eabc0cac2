"""That a member is a farm: kept by the database, and who sees a member's pages by it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, IntegrityError, transaction
from django.http import Http404, HttpResponse
from django.test import RequestFactory
from django.utils import timezone

from farmbuild.coop.members.seeing import as_member, check_acts_for, members_of
from farmbuild.coop.models import MemberFarm
from farmbuild.measure import format_decimal
from farmbuild.orgs.acts import READY_SETS, Act, Role, acts_of
from tests.factories import (
    MemberFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
    OrganisationFactory,
    UserFactory,
)

pytestmark = pytest.mark.django_db


def refused(what, *, by: str) -> None:
    with pytest.raises(DatabaseError) as error, transaction.atomic():
        what()
    assert by in str(error.value)


def test_what_was_linked_ends_once_and_is_kept():
    row = MemberFarmFactory()
    rows = MemberFarm.objects.filter(pk=row.pk)
    by = "member_farm_ends_once"
    refused(lambda: rows.update(farm=OrganisationFactory()), by=by)
    refused(lambda: rows.update(member=MemberFactory(organisation=row.organisation)), by=by)
    assert rows.update(ended_at=timezone.now(), ended_by=UserFactory()) == 1
    refused(lambda: rows.update(ended_at=timezone.now()), by=by)
    refused(lambda: rows.update(ended_at=None), by=by)
    refused(lambda: rows.delete(), by="member_farm_never_deleted")


def test_a_member_is_one_farm_and_a_farm_one_member_of_a_cooperative_at_a_time():
    row = MemberFarmFactory()
    other = MemberFactory(organisation=row.organisation)
    for given in ({"member": row.member}, {"member": other, "farm": row.farm}):
        with pytest.raises(IntegrityError), transaction.atomic():
            MemberFarmFactory(**given)
    MemberFarm.objects.update(ended_at=timezone.now())
    MemberFarmFactory(member=row.member)
    MemberFarmFactory(member=other, farm=row.farm)
    # Of another cooperative it may be a member as well.
    MemberFarmFactory(farm=row.farm)


def test_a_farm_is_no_cooperative_of_its_own_and_a_member_is_its_cooperatives():
    member = MemberFactory()
    refused(lambda: MemberFarmFactory(member=member, farm=member.organisation), by="farm_is_not_its_cooperative")
    elsewhere = OrganisationFactory()
    refused(lambda: MemberFarmFactory(member=member, organisation=elsewhere), by="member_farm_of_its_cooperative")


@as_member
def page(request, member, **more):
    return HttpResponse(f"{member.slug} {timezone.get_current_timezone_name()} {format_decimal(Decimal('1.5'))} {more}")


def asked(user, farm=None, lender="", **more):
    request = RequestFactory().get("/")
    request.user, request.organisation = user, farm
    request.acts = acts_of(organisation=farm, user=user) if farm else frozenset()
    return page(request, lender=lender, **more).content.decode()


def cooperative():
    return OrganisationFactory(slug="co-op", time_zone="Europe/Vienna", decimal_sign=",")


def test_a_visitor_sees_the_pages_of_his_member_by_the_clock_of_the_cooperative():
    row = MemberSignInFactory(member__organisation=cooperative(), member__slug="hilltop")
    assert asked(row.user, lender="co-op", pk=3) == "hilltop Europe/Vienna 1,5 {'pk': 3}"
    other = MemberFactory().organisation
    with pytest.raises(Http404):
        asked(row.user, lender=other.slug)
    row.shut_at = timezone.now()
    row.save()
    with pytest.raises(Http404):
        asked(row.user, lender="co-op")


@pytest.mark.parametrize("role", Role.values)
def test_of_a_farm_sees_them_who_sees_its_pages(role):
    row = MemberFarmFactory(member__organisation=cooperative(), member__slug="hilltop")
    user = MembershipFactory(organisation=row.farm, role=role).user
    if Act.SEE in READY_SETS[role]:
        assert asked(user, row.farm, "co-op") == "hilltop Europe/Vienna 1,5 {}"
    else:
        with pytest.raises(Http404):
            asked(user, row.farm, "co-op")
    for farm, lender in ((row.farm, OrganisationFactory().slug), (OrganisationFactory(), "co-op"), (None, "co-op")):
        with pytest.raises(Http404):
            asked(user, farm, lender)


@pytest.mark.parametrize("ending", ["link", "member"])
def test_nobody_sees_them_once_the_link_is_ended_or_the_member_archived(ending):
    row = MemberFarmFactory(member__organisation=cooperative())
    user = MembershipFactory(organisation=row.farm).user
    assert asked(user, row.farm, "co-op")
    check_acts_for(member=row.member, user=user)
    if ending == "link":
        MemberFarm.objects.update(ended_at=timezone.now())
    else:
        row.member.archived_at = timezone.now()
        row.member.save()
    with pytest.raises(Http404):
        asked(user, row.farm, "co-op")
    with pytest.raises(PermissionDenied):
        check_acts_for(member=row.member, user=user)


def test_a_farm_is_told_of_each_of_its_cooperatives_by_name():
    farm = OrganisationFactory()
    for name in ("Weir", "Alder"):
        MemberFarmFactory(farm=farm, member__organisation__name=name)
    MemberFarmFactory()
    request = RequestFactory().get("/")
    request.user, request.organisation, request.acts = UserFactory(), farm, frozenset({Act.SEE})
    assert [row.organisation.name for row in members_of(request)] == ["Alder", "Weir"]


@pytest.mark.parametrize(
    "role, does", [("owner", True), ("planner", True), ("yard", True), ("crew", False), ("looks", False)]
)
def test_for_a_member_does_something_who_plans_or_runs_benders_at_its_farm(role, does):
    row = MemberFarmFactory()
    user = MembershipFactory(organisation=row.farm, role=role).user
    others = [
        MembershipFactory().user,
        MembershipFactory(organisation=row.organisation).user,
        MemberSignInFactory(member__organisation=row.organisation).user,
    ]
    if does:
        check_acts_for(member=row.member, user=user)
    else:
        others.append(user)
    for other in others:
        with pytest.raises(PermissionDenied):
            check_acts_for(member=row.member, user=other)
    check_acts_for(member=row.member, user=MemberSignInFactory(member=row.member).user)
