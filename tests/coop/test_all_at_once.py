"""Twelve members ask for benders and put in what they need, while the manager books and the joint order closes."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import combinations

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Sum

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import PriceBreak
from farmbuild.coop.joint import own, services
from farmbuild.coop.models import JointNeed
from farmbuild.crew.bookings import member_requests
from farmbuild.crew.bookings.own.services import create_own_request
from farmbuild.crew.bookings.proposals import proposal_of
from farmbuild.crew.models import BenderBooking, BenderRequest
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import RAIL
from tests.factories import BenderFactory, MemberSignInFactory

pytestmark = pytest.mark.django_db(transaction=True)
MEMBERS = 12


def test_members_ask_the_manager_books_and_the_order_closes():
    coop = Cooperative(members=MEMBERS)
    joint = coop.joint()
    for _ in range(3):
        BenderFactory(organisation=coop.organisation)
    users = [MemberSignInFactory(member=member).user for member in coop.members]
    coop.put_in(joint, 0, rails=10)

    def asks(number):
        """Whether what it needs was still taken; a bender is asked for in any case."""
        who = {"member": coop.members[number], "user": users[number]}
        data = {"days": 2, "earliest": coop.today, "need_by": coop.today + timedelta(days=20)}
        create_own_request(**who, data=data)
        try:
            own.put_in_own(**who, joint=joint, material=coop.rail, length=RAIL[1], quantity=10 + number)
        except ValidationError as error:
            assert "is closed" in str(error)
            return False
        return True

    def gives():
        wishes = [
            member_requests.ProposedBooking(row.request.pk, row.bender.pk, row.first, row.last)
            for row in proposal_of(organisation=coop.organisation).given
        ]
        try:
            return len(member_requests.book_proposal(**coop.who, wishes=wishes)) if wishes else 0
        except ValidationError as error:
            assert "Nothing was booked" in str(error)
            return 0

    def closes():
        try:
            return len(services.close_joint(**coop.who, joint=joint))
        except ValidationError as error:
            assert "is closed" in str(error)
            return 0

    def alone(work, *args):
        try:
            return work(*args)
        finally:
            connection.close()

    with ThreadPoolExecutor(MEMBERS + 4) as pool:
        asking = [pool.submit(alone, asks, number) for number in range(MEMBERS)]
        closing = [pool.submit(alone, closes) for _ in range(2)]
        giving = [pool.submit(alone, gives) for _ in range(2)]
        took = [number for number, one in enumerate(asking) if one.result()]
        assert sum(one.result() for one in closing) == 1
        booked = sum(one.result() for one in giving)
    booked += gives()
    wanted = sum(10 + number for number in took) + (0 if 0 in took else 10)
    assert JointNeed.objects.aggregate(sum=Sum("quantity"))["sum"] == wanted
    # A few more where those bring a lower price for all.
    prices = PriceBreak.objects.filter(offer__material=coop.rail).values_list("from_quantity", "unit_price")
    _, cheapest = min((max(wanted, begins) * price, max(wanted, begins)) for begins, price in prices)
    assert PurchaseOrder.objects.get().lines.get().quantity == cheapest
    assert BenderRequest.objects.count() == MEMBERS
    assert BenderRequest.objects.filter(state="given").count() == booked == BenderBooking.objects.count() > 0
    for one, other in combinations(BenderBooking.objects.all(), 2):
        assert one.bender_id != other.bender_id or one.last < other.first or other.last < one.first
