"""Eight who write down the same at once: one row. Two runs of the mail: each warning once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.crew.bookings.warning_mail import send_due
from farmbuild.hoops.batches.measured import services
from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.orgs.clock import today_of
from tests.factories import (
    INCH,
    BenderBookingFactory,
    BenderFactory,
    MaterialFactory,
    MembershipFactory,
    MemberSignInFactory,
)

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8


def at_once(work):
    def alone(number):
        try:
            return work(number)
        except ValidationError as error:
            return error.messages[0]
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


def test_eight_press_at_once(settings):
    settings.EMAIL_HOST = "mail.example.org"
    member = MembershipFactory()
    who = {"organisation": member.organisation, "user": member.user}
    bender = BenderFactory(organisation=member.organisation, service_pulls=10, earlier_pulls=50)
    tube = MaterialFactory(organisation=member.organisation)
    today = today_of(organisation=member.organisation)
    booking = BenderBookingFactory(bender=bender, first=today + timedelta(days=2))
    MemberSignInFactory(member=booking.member, user__email="ada@example.org")
    MemberSignInFactory(member=booking.member, user__email="ben@example.org")

    # Each warning goes out once, whoever comes first.
    sent = at_once(lambda number: list(send_due(site="https://growers.example.org")))
    assert sorted(one for run in sent for one in run) == [True, True]
    assert len(mail.outbox) == 2

    data = {"day": today, "tube": tube, "free_span": INCH * 144, "rise": INCH * 78, "pipe": INCH * 238}
    hoops = at_once(lambda number: services.record_hoop(**who, bender=bender, data=data))
    assert MeasuredHoop.objects.count() == 1
    assert sum("already" in str(row) for row in hoops) == THREADS - 1

    done = {"day": today, "done": "Greased", "who": "Ada"}
    rows = at_once(lambda number: services.record_service(**who, bender=bender, data=done))
    row = ServiceRecord.objects.get()
    assert sum("already" in str(one) for one in rows) == THREADS - 1

    backs = at_once(lambda number: services.take_back_service(**who, row=row, reason=f"No {number}"))
    assert sum(one == "It is taken back already." for one in backs) == THREADS - 1
