"""Movements by the hundred thousand (a million in the long run), ten a lot: one query recounts them.

Pages ask the database as often as with few.
"""

from __future__ import annotations

import time
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import Lot, Movement
from tests.factories import LotFactory, MaterialFactory, PlaceFactory
from tests.size import sized

pytestmark = pytest.mark.django_db

LOTS = sized(20_000, 100_000)
MOVEMENTS = 10 * LOTS
FILL_LOTS = f"""
WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {LOTS - 1})
INSERT INTO stock_lot (organisation_id, reference, material_id, length, offcut, place_id, unit_cost, received_on,
                       on_hand, reserved, promised, value, basis_value, basis_pieces)
SELECT %s, 'B-' || (100000 + i), %s, 3048, 1 = 0, %s, 12.5, %s, {MOVEMENTS // LOTS}, 0, 0, 0, 0, 0 FROM n
"""
FILL_MOVEMENTS = f"""
WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {MOVEMENTS - 1})
INSERT INTO stock_movement (lot_id, kind, quantity, at, reason, paper, borrower, amount, estimated)
SELECT %s + i %% {LOTS}, 'receive', 1, %s, '', '', '', 0, 1 = 0 FROM n
"""


def ask(client, address):
    start = time.perf_counter()
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked), time.perf_counter() - start


def test_many_movements(signed_in, organisation):
    material = MaterialFactory(organisation=organisation, code="rail")
    place = PlaceFactory(organisation=organisation)
    lot = LotFactory(material=material, place=place)
    pages = [
        "/stock/ledger/",
        "/stock/ledger/?page=7",
        "/stock/ledger/?material=rail",
        "/stock/ledger/?kind=receive",
        f"/stock/ledger/?place={place.pk}&since=2020-01-01",
        f"/stock/lots/{lot.pk}/",
    ]
    for _ in range(200):
        Movement.objects.create(lot=lot, kind="receive", quantity=1)
    Lot.objects.update(on_hand=220)
    few = [ask(signed_in, address)[0] for address in pages]
    start = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute(FILL_LOTS, [organisation.pk, material.pk, place.pk, date(2027, 1, 15)])
        first = Lot.objects.order_by("pk")[1].pk
        cursor.execute(FILL_MOVEMENTS, [first, timezone.now()])
        cursor.execute("ANALYZE")
    print(f"\nfilled in {time.perf_counter() - start:.1f} s")
    assert Movement.objects.count() == MOVEMENTS + 201
    start = time.perf_counter()
    with CaptureQueriesContext(connection) as asked:
        assert not list(differences(organisation=organisation))
    print(f"recount of {LOTS + 1:,} lots: {len(asked)} query, {time.perf_counter() - start:.2f} s")
    assert len(asked) == 1
    start = time.perf_counter()
    with CaptureQueriesContext(connection) as asked:
        pieces = sum(Lot.objects.of(organisation).values_list("on_hand", flat=True))
    print(f"on hand of {LOTS + 1:,} lots: {len(asked)} query, {time.perf_counter() - start:.2f} s")
    assert len(asked) == 1
    assert pieces == MOVEMENTS + 220
    for address, queries in zip(pages, few, strict=True):
        now, seconds = ask(signed_in, address)
        print(f"{address}: {now} queries, {seconds:.2f} s")
        # Of few rows what the page shows is kept, which takes a few questions more when it is opened first.
        assert now <= queries
