"""Eight people plan, accept, swap, release, buy, receive and use stock, at random, at once; then holds are counted."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import OperationalError, connection

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Receipt
from farmbuild.buying.reserving.selectors import reservation_differences
from farmbuild.buying.services import Arrival, cancel_order, receive_goods, reverse_receipt, send_order
from farmbuild.plans import accepting, services
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving import swapping
from farmbuild.plans.reserving.services import release
from farmbuild.stock import cutting, ledger
from farmbuild.stock.models import HeldPiece, Lot, Movement, Reservation
from farmbuild.stock.reserving.selectors import reservations_of
from farmbuild.stock.services import issue_pieces
from tests import size
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    OfferFactory,
    PlaceFactory,
    RecipeFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.size import sized
from tests.stock import test_ledger_races as ledger_races

pytestmark = pytest.mark.django_db(transaction=True)
#: SQLite lets one after the other write, so that fewer show as much.
OPERATIONS = sized(400 if size.on_another_database else 300, 5000)
TODAY = date(2027, 3, 1)


class Planner(ledger_races.Worker):
    """Does all that a worker of the ledger does, and whatever can be done with holds."""

    def __init__(self, number, member, material, places, houses):
        super().__init__(number, member, material, places, houses)
        self.again = Counter()

    def run(self, operations):
        kinds = [self.receive, self.issue, self.scrap, self.count, self.move, self.lend, self.give_back, self.cut]
        kinds += [self.reverse, self.bring_back, self.accept, self.accept, self.accept_older, self.release_plan]
        kinds += [self.release_house, self.release_some, self.swap, self.swap, self.issue_held, self.issue_held]
        kinds += [self.cut_held, self.move_held, self.send, self.goods_in, self.goods_in, self.goods_back, self.cancel]
        try:
            for _ in range(operations):
                kind = self.chance.choice(kinds)
                self.try_it(kind)
        finally:
            connection.close()
        return self

    def try_it(self, kind):
        """A database that is busy, or breaks a tie between two, refuses the whole of it; it is done again then."""
        for _ in range(5):
            try:
                kind()
            except ValidationError:
                self.refused[kind.__name__] += 1
            except OperationalError as error:
                self.again[kind.__name__, str(error).partition("DETAIL")[0].strip()] += 1
                continue
            else:
                self.done[kind.__name__] += 1
            return
        raise AssertionError(f"{kind.__name__} found the database busy five times")

    def one_of(self, rows):
        found = list(rows[:20])
        if not found:
            raise ValidationError("None yet.")
        return self.chance.choice(found)

    def hold(self, **which):
        return self.one_of(reservations_of(organisation=self.given["organisation"]).filter(**which).order_by("?"))

    def accept(self):
        """Plan one or two houses as things stand, and accept that."""
        plan = services.create_plan(
            **self.given,
            name="Race",
            houses=self.chance.sample(self.houses, self.chance.choice([1, 1, 2])),
            delivery_site=self.houses[0].site,
            as_of=TODAY,
        ).plan
        services.work_out_plan(plan.pk)
        accepting.accept_plan(**self.given, plan=plan)
        if self.chance.random() < 0.7:
            self.send(PurchaseOrder.objects.filter(plan=plan))

    def accept_older(self):
        accepting.accept_plan(**self.given, plan=self.one_of(Plan.objects.filter(state="ready").order_by("-pk")))

    def release_plan(self):
        accepting.release_plan(**self.given, plan=self.one_of(Plan.objects.exclude(accepted_at=None)))

    def release_house(self):
        accepting.release_house(**self.given, house=self.chance.choice(self.houses))

    def release_some(self):
        release(**self.given, reservation=self.hold(), quantity=self.pieces())

    def swap(self):
        rows = reservations_of(organisation=self.given["organisation"])
        waiting = list(rows.filter(order_line__isnull=False).order_by("?")[:12])
        pairs = [
            (row, other)
            for row in waiting
            for other in swapping.sooner_reservations(organisation=row.organisation, waiting=row)
        ]
        if not pairs:
            raise ValidationError("Nobody has anything sooner.")
        row, other = self.chance.choice(pairs)
        quantity = min(self.pieces(), swapping.max_quantity(row, other))
        how = {"organisation": row.organisation, "quantity": quantity, "today": TODAY}
        effect = swapping.effect_of(waiting=row, held=other, **how)
        swapping.swap(user=self.given["user"], waiting=row.pk, held=other.pk, seen=effect.seen, **how)

    def issue_held(self):
        row = self.hold(lot__isnull=False)
        issue_pieces(**self.given, lot=row.lot, quantity=self.pieces(), reason="", house=row.house)

    def move_held(self):
        row = self.hold(lot__isnull=False)
        place = self.chance.choice(self.places)
        ledger.move_pieces(**self.given, lot=row.lot, quantity=self.pieces(), place=place, house=row.house)

    def cut_held(self):
        row = self.hold(lot__isnull=False, pieces__isnull=False)
        cutting.cut_reserved(**self.given, reservation=row, sticks=1)

    def send(self, orders=None):
        orders = PurchaseOrder.objects.order_by("-pk") if orders is None else orders
        order = self.one_of(orders.filter(state="draft"))
        send_order(**self.given, order=order, sent_on=TODAY, how="e-mail")

    def cancel(self):
        order = self.one_of(PurchaseOrder.objects.filter(state__in=["draft", "sent"]).order_by("pk"))
        cancel_order(**self.given, order=order, reason="race")

    def goods_in(self):
        order = self.one_of(PurchaseOrder.objects.filter(state__in=["sent", "part"]).order_by("-pk"))
        arrivals = [
            Arrival(line.pk, came, damaged, "bent" if damaged else "")
            for line in order.lines.all()
            for came in [self.chance.randint(0, line.to_come + 2)]
            for damaged in [self.chance.randint(0, came // 4)]
        ]
        receive_goods(**self.given, order=order, arrivals=arrivals, received_on=TODAY, token=str(uuid4()), place="Rack")

    def goods_back(self):
        receipt = self.one_of(Receipt.objects.filter(reverses=None, reversed_by=None).order_by("-pk"))
        reverse_receipt(**self.given, receipt=receipt, reason="race")


def test_random_holding_by_eight_at_once_holds_nothing_twice():
    member = MembershipFactory()
    organisation = member.organisation
    rail = MaterialFactory(organisation=organisation, code="rail")
    post = MaterialFactory(organisation=organisation, code="post", swaged=False)
    places = [PlaceFactory(organisation=organisation) for _ in range(3)]
    site = SiteFactory(organisation=organisation)
    recipe = RecipeFactory(organisation=organisation, tube=rail)
    houses = [
        HouseFactory(
            site=site,
            recipe=recipe,
            post_material=post,
            length=FOOT * 16,
            need_date=TODAY + timedelta(days=30 + 10 * at),
        )
        for at in range(5)
    ]
    for _ in range(2):
        LotFactory(material=rail, place=places[0], on_hand=12)
        LotFactory(material=post, place=places[0], on_hand=4, length=FOOT * 21, unit_cost=Decimal(30))
    supplier = SupplierFactory(organisation=organisation)
    OfferFactory(supplier=supplier, material=rail, pack=4, lead_days=9, price="13.335")
    OfferFactory(supplier=supplier, material=post, length=FOOT * 21, lead_days=9, price="34")
    workers = [Planner(number, member, rail, places, houses) for number in range(ledger_races.THREADS)]
    each = -(-OPERATIONS // ledger_races.THREADS)
    with ThreadPoolExecutor(ledger_races.THREADS) as pool:
        list(pool.map(lambda worker: worker.run(each), workers))
    done = sum((worker.done for worker in workers), Counter())
    refused = sum((worker.refused for worker in workers), Counter())
    again = sum((worker.again for worker in workers), Counter())
    print(f"{each * len(workers)} operations: done {dict(done)}, refused {dict(refused)}, again {dict(again)}")  # noqa: T201
    assert done.total() + refused.total() == each * len(workers)
    assert {"accept", "issue_held"} <= set(done)
    # A swap finds its pair seldom, and orders are mostly cancelled before they come in; a long run has to find some.
    assert {"swap", "goods_in"} <= set(done) or len(workers) * each < 4000
    ledger_races._check_counts()
    ledger_races._check_length_and_worth(organisation)
    _check_holds()


def _check_holds():
    """By a plain walk over the holds, without the sums that triggers keep."""
    lots, lines = Counter(), Counter()
    accepted = {(row.plan_id, row.house_id) for row in PlanHouse.objects.filter(accepted=True)}
    assert len({house for _, house in accepted}) == len(accepted)
    holding = {plan.pk for plan in Plan.objects.defer("inputs", "result") if plan.is_accepted}
    assert {plan for plan, _ in accepted} == holding
    for row in Reservation.objects.all():
        assert row.quantity > 0
        assert (row.plan_id, row.house_id) in accepted
        lots[row.lot_id] += row.quantity
        lines[row.order_line_id] += row.quantity
    for piece in HeldPiece.objects.select_related("reservation"):
        assert (piece.reservation.plan_id, piece.house_id) in accepted
    moved = Counter()
    for movement in Movement.objects.all():
        moved[movement.lot_id] += movement.quantity
    for lot in Lot.objects.all():
        assert lots[lot.pk] == lot.reserved <= lot.on_hand == moved[lot.pk]
    came = Counter()
    for receipt in Receipt.objects.prefetch_related("lines"):
        for line in receipt.lines.all():
            came[line.order_line_id] += line.arrived - line.damaged
    for line in PurchaseOrderLine.objects.select_related("order"):
        there = 0 if line.closed_at or line.order.state == "cancelled" else max(0, line.quantity - came[line.pk])
        assert lines[line.pk] == line.reserved <= there
    assert not list(reservation_differences())
