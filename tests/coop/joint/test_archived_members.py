"""A member that has pieces in a joint order is not archived before they are out or ordered."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.coop.joint.services import call_off_joint, put_in
from farmbuild.crew.bookings.member_requests import archive_member
from tests.factories import JointOrderFactory, MaterialFactory, MemberFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def needs(organisation, user):
    who = {"organisation": organisation, "user": user}
    member, other = (MemberFactory(organisation=organisation) for _ in range(2))
    joint = JointOrderFactory(organisation=organisation, number=4)
    thing = {"joint": joint, "material": MaterialFactory(organisation=organisation), "length": Decimal(6000)}
    put_in(**who, **thing, member=member, quantity=7)
    return who, thing, member, other


def archived(member) -> bool:
    member.refresh_from_db()
    return member.archived_at is not None


def test_it_takes_its_pieces_out_first(needs):
    who, thing, member, other = needs
    archive_member(**who, member=other)
    assert archived(other)
    with pytest.raises(ValidationError, match="takes part in joint order 4"):
        archive_member(**who, member=member)
    assert not archived(member)
    put_in(**who, **thing, member=member, quantity=0)
    archive_member(**who, member=member)
    assert archived(member)


def test_a_joint_order_that_is_called_off_keeps_nobody(needs):
    who, thing, member, _ = needs
    call_off_joint(**who, joint=thing["joint"], reason="Nobody else needs any.")
    archive_member(**who, member=member)
    assert archived(member)


def test_one_that_was_archived_meanwhile_puts_nothing_in(needs):
    who, thing, _, other = needs
    archive_member(**who, member=other)
    assert other.archived_at is None, "as whoever waits has it"
    with pytest.raises(ValidationError, match="is archived"):
        put_in(**who, **thing, member=other, quantity=3)
    assert not thing["joint"].needs.filter(member=other).exists()
