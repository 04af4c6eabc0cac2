"""Eight people do whatever can be done with stock, at random, at once; then everything is counted again."""

from __future__ import annotations

import random
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.stock import cutting, ledger, services
from farmbuild.stock.cost_selectors import stock_books, unequal_worth, unshared_movements, wrong_values
from farmbuild.stock.cut_layout import to_mm
from farmbuild.stock.ledger_selectors import differences, unequal_cuts
from farmbuild.stock.models import Cut, Lot, Movement, Repricing
from tests import size
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    PlaceFactory,
    SiteFactory,
)
from tests.size import sized

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8
#: SQLite lets one after the other write, so that fewer show as much.
OPERATIONS = sized(400 if size.on_another_database else 160, 5000)


class Worker:
    """One person with a connection and a dice of their own."""

    def __init__(self, number, member, material, places, houses):
        self.houses = houses
        self.chance = random.Random(number)
        self.given = {"organisation": member.organisation, "user": member.user}
        self.material, self.places = material, places
        self.done, self.refused = Counter(), Counter()

    def run(self, operations):
        kinds = [self.receive, self.issue, self.bring_back, self.scrap, self.count, self.move, self.lend]
        kinds += [self.give_back, self.cut, self.cut, self.reverse, self.reverse, self.reprice]
        try:
            for _ in range(operations):
                kind = self.chance.choice(kinds)
                try:
                    kind()
                    self.done[kind.__name__] += 1
                except ValidationError:
                    self.refused[kind.__name__] += 1
        finally:
            connection.close()
        return self

    def lot(self):
        # The newest few, so that several people want the same.
        return self.chance.choice(list(Lot.objects.order_by("-on_hand", "pk").select_related("organisation")[:12]))

    def some(self, kind):
        rows = list(Movement.objects.filter(**kind, reverses=None).order_by("-pk")[:30])
        if not rows:
            raise ValidationError("None yet.")
        return self.chance.choice(rows)

    def pieces(self):
        return self.chance.randint(1, 6)

    def receive(self):
        services.receive_lot(
            **self.given,
            material=self.material,
            quantity=self.pieces(),
            place=self.chance.choice(self.places),
            received_on=date(2027, 3, 1),
            length=FOOT * self.chance.choice([8, 10, 12]),
            unit_cost=Decimal(self.chance.randint(1, 200_000)) / 10_000,
        )

    def issue(self):
        together = [(house, 3 + at) for at, house in enumerate(self.houses)]
        whose = self.chance.choice([{}, {"house": self.houses[0]}, {"sharing": together}])
        services.issue_pieces(**self.given, lot=self.lot(), quantity=self.pieces(), reason="race", **whose)

    def bring_back(self):
        house = self.chance.choice([None, self.houses[0]])
        services.return_pieces(**self.given, lot=self.lot(), quantity=1, reason="race", house=house)

    def reprice(self):
        cost = Decimal(self.chance.randint(1, 200_000)) / 10_000
        services.reprice_lot(**self.given, lot=self.lot(), unit_cost=cost, reason="race")

    def scrap(self):
        services.scrap(**self.given, lot=self.lot(), quantity=self.pieces(), reason="race")

    def count(self):
        lot = self.lot()
        counted = max(0, lot.on_hand + self.chance.randint(-2, 2))
        services.adjust_by_count(**self.given, lot=lot, counted=counted, seen=lot.on_hand, reason="race")

    def move(self):
        place = self.chance.choice(self.places)
        ledger.move_pieces(**self.given, lot=self.lot(), quantity=self.pieces(), place=place)

    def lend(self):
        ledger.lend_pieces(**self.given, lot=self.lot(), quantity=self.pieces(), borrower="Ana Ruiz")

    def give_back(self):
        ledger.return_loan(**self.given, loan=self.some({"kind": "lend"}), quantity=self.pieces())

    def cut(self):
        lot = self.lot()
        pieces = [lot.length * self.chance.randint(5, 45) / 100 for _ in range(self.chance.randint(1, 3))]
        cutting.cut_sticks(
            **self.given,
            lot=lot,
            sticks=self.chance.randint(1, 2),
            pieces=[piece.quantize(Decimal("0.000001")) for piece in pieces],
            keep=self.chance.random() < 0.5,
        )

    def reverse(self):
        ledger.reverse(**self.given, movement=self.some({}), reason="race")


def test_random_work_by_eight_at_once_loses_nothing():
    member = MembershipFactory()
    material = MaterialFactory(organisation=member.organisation)
    places = [PlaceFactory(organisation=member.organisation) for _ in range(3)]
    for _ in range(6):
        LotFactory(material=material, place=places[0], on_hand=40)
    site = SiteFactory(organisation=member.organisation)
    houses = [HouseFactory(site=site) for _ in range(2)]
    workers = [Worker(number, member, material, places, houses) for number in range(THREADS)]
    each = -(-OPERATIONS // THREADS)
    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(lambda worker: worker.run(each), workers))
    done = sum((worker.done for worker in workers), Counter())
    refused = sum((worker.refused for worker in workers), Counter())
    print(f"{each * THREADS} operations: done {dict(done)}, refused {dict(refused)}")  # noqa: T201
    assert set(done) == {kind.__name__ for kind in (
        Worker.receive, Worker.issue, Worker.bring_back, Worker.scrap, Worker.count, Worker.move, Worker.lend,
        Worker.give_back, Worker.cut, Worker.reverse, Worker.reprice,
    )}  # fmt: skip
    assert done.total() + refused.total() == each * THREADS
    _check_counts()
    _check_length_and_worth(member.organisation)


def _check_counts():
    """On hand by a plain walk over the movements, never below zero on the way; the project's own recount agrees."""
    running = Counter()
    lent, reversed_once = Counter(), Counter()
    for row in Movement.objects.order_by("pk"):
        running[row.lot_id] += row.quantity
        assert running[row.lot_id] >= 0
        reversed_once[row.reverses_id] += 1
        if row.kind == "lend":
            lent[row.reverses_id or row.pk] -= row.quantity
        if row.gives_back_id:
            lent[row.gives_back_id] -= row.quantity
    assert dict(Lot.objects.values_list("pk", "on_hand")) == dict(running)
    assert all(out >= 0 for out in lent.values())
    del reversed_once[None]
    assert set(reversed_once.values()) <= {1}
    assert not list(differences())
    assert not list(unequal_cuts())


def _check_length_and_worth(organisation):
    """What is there and what went out of the yard is what came in, less what the saw took: to the nanometre and the
    coin."""
    length, worth = Counter(), Counter()
    for row in Movement.objects.select_related("lot"):
        kind = row.kind if row.kind in ("cut", "move") else "outside"
        length[kind] += row.quantity * row.lot.length
        worth[kind] += row.amount
    stock = list(Lot.objects.values_list("on_hand", "length", "value"))
    standing = Cut.objects.exclude(movements__reverses__isnull=False)
    sawn = sum(cut.sticks * to_mm(cut.kerf_nm * cut.kerfs + cut.scrap_nm) for cut in standing)
    assert length["move"] == worth["move"] == 0
    assert length["cut"] == -sawn
    assert worth["cut"] == 0
    assert sum(count * long for count, long, _ in stock) == length["outside"] - sawn
    repriced = sum(Repricing.objects.values_list("amount", flat=True))
    assert sum(value for *_, value in stock) == worth["outside"] + repriced
    assert stock_books(organisation=organisation).off == 0
    assert not [*wrong_values(), *unshared_movements(), *unequal_worth()]
    assert standing.exists()
