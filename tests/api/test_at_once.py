"""Two programs at the same moment, on a database with real threads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connections

from farmbuild.api.models import Answered
from farmbuild.stock.models import Lot
from tests.api.conftest import Program, make
from tests.factories import LotFactory, MembershipFactory

pytestmark = pytest.mark.django_db(transaction=True)
MANY = 6


def test_one_key_at_once_counts_once(settings):
    settings.API_A_MINUTE = 10_000
    person = MembershipFactory()
    lot = LotFactory(material__organisation=person.organisation, on_hand=90)
    secret = make(person.organisation, person.user)
    start = Barrier(MANY)

    def send(number: int) -> tuple[int, int]:
        try:
            program = Program(secret)
            start.wait()
            sent = program.send(
                f"/lots/{lot.reference}/issues", {"quantity": 1}, **{"Idempotency-Key": f"k{number // MANY}"}
            )
            return sent.status_code, sent.json().get("id", 0)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(MANY) as pool:
        found = [*pool.map(send, range(2 * MANY))]
    assert {status for status, _ in found} == {201}, found
    assert len({key for _, key in found}) == 2 == Answered.objects.count()
    assert Lot.objects.get(pk=lot.pk).on_hand == 88
