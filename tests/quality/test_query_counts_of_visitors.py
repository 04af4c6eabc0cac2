"""The lists of a member who signs in ask the database as often at many rows as at 10."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.coop.models import CommonWish
from farmbuild.crew.models import BenderBooking, BenderRequest
from tests.crew.own import first_page
from tests.factories import MemberSignInFactory
from tests.quality.test_query_counts import FEW, MANY, more_bookings, more_common, more_requests

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("address", "more", "rows"),
    [
        ("bookings/", more_bookings, BenderBooking),
        ("bookings/?past=1", more_bookings, BenderBooking),
        ("days/?from=2087-01-05", more_bookings, BenderBooking),
        ("bookings/", more_requests, BenderRequest),
        ("", more_bookings, BenderBooking),
        ("", more_requests, BenderRequest),
        ("common-stock/", more_common, CommonWish),
        ("", more_common, CommonWish),
    ],
)
def test_a_list_costs_the_same_at_any_length(client, organisation, address, more, rows):
    more(organisation, 0, FEW)
    client.force_login(MemberSignInFactory(member=rows.objects.of(organisation).first().member).user)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(f"{first_page()}{address}").status_code == 200
        return len(asked)

    few = queries()
    more(organisation, FEW, MANY)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    assert queries() == few
