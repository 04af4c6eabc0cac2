"""Availability of a yard with a million movements, against its own SQL.

Page and SQL are timed turn by turn and the least times compared. The page may take three times what its statements
take with all their rows fetched. The page of one material is mostly fixed work, so that of a material without stock is
counted on the side of the statements.
"""

from __future__ import annotations

import re
import time
from datetime import date

import pytest
from django.db import connection
from django.template.base import Template
from django.test.utils import CaptureQueriesContext, _TestState
from django.utils import timezone
from pytest_benchmark.fixture import BenchmarkFixture

from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.stock.models import Lot, Movement, Reservation
from tests.benchmarks.turns import ROUNDS, by_turns
from tests.factories import HouseFactory, LotFactory, MaterialFactory, OfferFactory, PlaceFactory, SupplierFactory
from tests.size import sized

pytestmark = pytest.mark.django_db

LOTS, MOVEMENTS, MATERIALS, HELD = 100_000, 1_000_000, 31, 5_000
#: Times the statements alone, and times the statements and a page with nothing on it.
MAX_TIMES = (3.0, 1.5)
IDLE = "without-stock"
#: Works the value of a lot out anew at every movement.
VALUED = "lot_valued_by_movement"
#: Materials have keys that follow each other.
FILL_LOTS = f"""
WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {LOTS - 1})
INSERT INTO stock_lot (organisation_id, reference, material_id, length, offcut, place_id, unit_cost, received_on,
                       on_hand, reserved, promised, value, basis_value, basis_pieces)
SELECT %s, 'B-' || (100000 + i), %s + i %% {MATERIALS}, 304.8 * (1 + i %% 20), i %% 3 = 0, %s, 12.5, %s,
       {MOVEMENTS // LOTS}, 0, 0, 0, 0, 0 FROM n
"""
FILL_MOVEMENTS = f"""
WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {MOVEMENTS - 1})
INSERT INTO stock_movement (lot_id, kind, quantity, at, reason, paper, borrower, amount, estimated)
SELECT %s + i %% {LOTS}, 'receive', 1, %s, '', '', '', 0, 1 = 0 FROM n
"""


@pytest.fixture
def small_yard(organisation):
    """31 materials, each with an offer; a whole lot, an offcut, and a house that holds one piece."""
    place = PlaceFactory(organisation=organisation)
    materials = [MaterialFactory(organisation=organisation, code=f"material-{at}") for at in range(MATERIALS)]
    supplier = SupplierFactory(organisation=organisation)
    for material in materials:
        OfferFactory(supplier=supplier, material=material)
    MaterialFactory(organisation=organisation, code=IDLE)
    LotFactory(material=materials[0], place=place, offcut=True)
    lot = LotFactory(material=materials[0], place=place)
    house = HouseFactory(site__organisation=organisation)
    plan = Plan.objects.create(
        organisation=organisation,
        number=1,
        name="Many",
        state=Plan.State.READY,
        as_of=date(2027, 2, 1),
        delivery_site=house.site,
        inputs={},
        result={"unmet": []},
        accepted_at=timezone.now(),
    )
    PlanHouse.objects.create(plan=plan, house=house, accepted=True)
    hold = {"organisation": organisation, "plan": plan, "house": house, "need_by": house.need_date, "purpose": "hoops"}
    Reservation.objects.create(**hold, lot=lot, quantity=1)
    return materials, place, hold


def fill(organisation, materials, place, hold) -> None:
    there = Lot.objects.count()
    with connection.cursor() as cursor:
        cursor.execute(FILL_LOTS, [organisation.pk, materials[0].pk, place.pk, date(2027, 1, 15)])
        first = Lot.objects.order_by("pk")[there].pk
        # All are worth nothing, which a million sums would not change.
        cursor.execute("SELECT sql FROM sqlite_master WHERE name = %s", [VALUED])
        [valued] = cursor.fetchone()
        cursor.execute(f"DROP TRIGGER {VALUED}")
        cursor.execute(FILL_MOVEMENTS, [first, timezone.now()])
        cursor.execute(valued)
        cursor.execute("ANALYZE")
    rows = [Reservation(**hold, lot_id=first + at, quantity=1 + at % 3) for at in range(HELD)]
    Reservation.objects.bulk_create(rows, batch_size=500)


def test_availability_with_a_million_movements(
    benchmark: BenchmarkFixture,
    signed_in,
    organisation,
    small_yard,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Under test Django copies the context of every template for assertions, which a server does not.
    monkeypatch.setattr(Template, "_render", _TestState.saved_data.template_render)
    pages = ["/stock/availability/", "/stock/availability/material-0/"]

    def page(address: str) -> None:
        assert signed_in.get(address).status_code == 200

    def asked_by(address: str) -> list[str]:
        with CaptureQueriesContext(connection) as asked:
            page(address)
        return [re.sub(r"^DECLARE .*? FOR ", "", query["sql"]) for query in asked.captured_queries]

    few = [len(asked_by(address)) for address in pages]
    start = time.perf_counter()
    fill(organisation, *small_yard)
    filled = time.perf_counter() - start
    assert Movement.objects.count() == MOVEMENTS + 2
    statements = [asked_by(address) for address in pages]
    assert [len(some) for some in statements] == few

    def bare(some: list[str], address: str) -> None:
        if address != pages[0]:
            page(f"/stock/availability/{IDLE}/")
        with connection.cursor() as cursor:
            for statement in some:
                cursor.execute(statement)
                cursor.fetchall()

    told, times = [f"filled in {filled:.1f} s"], []
    for address, some, limit in zip(pages, statements, MAX_TIMES, strict=True):
        turns = (lambda: page(address), lambda: bare(some, address))  # noqa: B023
        page_time, bare_time = by_turns(*turns, rounds=sized(6, ROUNDS), enough=limit)
        times.append(page_time / bare_time)
        told.append(
            f"{address}: {len(some)} statements, page {page_time * 1000:.1f} ms, bare {bare_time * 1000:.1f} ms,"
            f" {times[-1]:.2f} times"
        )
    with capsys.disabled():
        print("\n" + "\n".join(told))
    benchmark.extra_info["times"] = [round(ratio, 3) for ratio in times]
    benchmark.pedantic(lambda: page(pages[0]), rounds=3)
    assert all(ratio < limit for ratio, limit in zip(times, MAX_TIMES, strict=True)), times
