"""Joint orders at random, through services: what members are charged, with what the cooperative keeps, is the bill."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from django.db.models import Sum

from farmbuild.buying.invoices.selectors import expense_of
from farmbuild.buying.models import CostAdjustment, Invoice, PurchaseOrder, ReceiptLine
from farmbuild.buying.services import close_short
from farmbuild.coop.joint import services
from farmbuild.coop.joint.handing import handing_of
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.law import faults_of as faults_of_members
from farmbuild.coop.models import JointOrder, MemberEntry
from farmbuild.costs.law import faults_of
from farmbuild.measure import places, round_money
from tests.coop.joint.making import Cooperative
from tests.factories import MaterialFactory, SupplierFactory
from tests.size import sized

pytestmark = pytest.mark.django_db
D = Decimal


class Season:
    """A cooperative with four things of two suppliers, in a currency and with taxes drawn at random."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        draw = self.random
        self.coop = Cooperative(
            members=draw.randint(2, 5),
            currency=draw.choice(["USD", "JPY", "KWD"]),
            tax_percent=draw.choice([D(0), D("6.25"), D(19)]),
            prices_include_tax=draw.random() < 0.4,
            recovers_tax=draw.random() < 0.3,
        )
        other = SupplierFactory(organisation=self.coop.organisation, delivery_charge=D(30))
        self.things = [(self.coop.rail, self.coop.rail.offers.get().length), (self.coop.pipe, D("6096"))]
        for code, supplier, price, pack in (("clip", other, "0.335", 12), ("wire", other, "7.05", 1)):
            made = MaterialFactory(organisation=self.coop.organisation, code=code, kind="hardware")
            self.coop.offer(made, None, {1: price}, supplier=supplier, pack=pack)
            self.things.append((made, None))

    def joint(self) -> JointOrder:
        joint = self.coop.joint(damage_rule=self.random.choice(["listed", "shared", "coop"]))
        for member in self.coop.members:
            for material, length in self.random.sample(self.things, self.random.randint(0, 4)):
                services.put_in(
                    **self.coop.who,
                    joint=joint,
                    member=member,
                    material=material,
                    length=length,
                    quantity=self.random.randint(1, 70),
                )
        if not joint.needs.exists():
            self.coop.put_in(joint, 0, rails=3)
        return joint

    def deliver(self, order: PurchaseOrder) -> None:
        """Some of what is to come, now and then some of it damaged."""
        came = []
        for line in order.lines.all():
            arrived = self.random.randint(0, line.to_come)
            damaged = self.random.randint(0, min(3, arrived)) if self.random.random() < 0.4 else 0
            came.append((arrived, damaged))
        if any(arrived for arrived, _ in came):
            self.coop.receive(order, *came, credited=self.random.random() < 0.5)
            order.refresh_from_db()

    def bill(self, order: PurchaseOrder, number: str) -> None:
        """What came and is paid, and was not billed yet, at prices that are another now and then."""
        lost = dict(
            ReceiptLine.objects.filter(receipt__order=order, receipt__damage_credited=False)
            .order_by()
            .values_list("order_line")
            .annotate(sum=Sum("damaged"))
        )
        quantities, prices = [], []
        for line in order.lines.all():
            billed = line.invoice_lines.aggregate(sum=Sum("quantity"))["sum"] or 0
            quantities.append(line.good + lost.get(line.pk, 0) - billed)
            prices.append(str(line.unit_price + self.random.choice([0, 0, D("0.5")])))
        if any(quantities):
            currency = self.coop.organisation.currency
            tax = round_money(D(self.random.randint(0, 900)) / 100, currency)
            delivery = round_money(D(self.random.randint(0, 9000)) / 100, currency)
            self.coop.bill(order, quantities, number, prices, tax=tax, delivery=delivery)

    def charge(self, joint: JointOrder) -> None:
        if any(row.to_post for row in split_of(joint).rows if row.member):
            self.coop.charge(joint)


@pytest.mark.parametrize("seed", range(sized(2, 60)))
def test_what_members_owe_and_the_cooperative_keeps_is_what_was_billed(seed):
    season = Season(seed)
    coop = season.coop
    joint = season.joint()
    orders = coop.close(joint)
    for step in range(3):
        for order in orders:
            season.deliver(order)
            if season.random.random() < 0.5:
                season.bill(order, f"R-{order.pk}-{step}")
        season.charge(joint)
        for n in range(len(coop.members)):
            mine = [row for row in handing_of(joint) if row.need.member == coop.members[n]]
            rows = [row for row in mine if row.there and row.left]
            if rows:
                row = season.random.choice(rows)
                count = season.random.randint(1, min(row.left, row.there))
                services.hand_out(
                    **coop.who,
                    joint=joint,
                    member=coop.members[n],
                    pieces={row.need.pk: count},
                    day=coop.today,
                    press=f"{seed}-{step}-{n}",
                )
    for order in orders:
        order.refresh_from_db()
        if order.state == "part":
            close_short(**coop.who, order=order, reason="no longer made")
        season.bill(order, f"R-{order.pk}-last")
    season.charge(joint)
    came = [order for order in orders if order.lines.filter(arrived__gt=0).exists()]
    page = split_of(joint)
    if len(came) == len(orders):
        recovered = coop.organisation.recovers_tax
        billed = sum((one.total - (one.tax if recovered else 0) for one in Invoice.objects.all()), D(0))
        assert page.total == billed
        stock = ReceiptLine.objects.aggregate(sum=Sum("amount"))["sum"] or 0
        stock += CostAdjustment.objects.aggregate(sum=Sum("amount"))["sum"] or 0
        assert round(stock, 3) + expense_of(organisation=coop.organisation) == billed
    charged = MemberEntry.objects.aggregate(sum=Sum("amount"))["sum"] or D(0)
    assert round(charged, 3) == sum(row.owes for row in page.rows if row.member)
    coin = D(1).scaleb(-places(coop.organisation.currency))
    assert all(row.owes % coin == 0 for row in page.rows)
    assert list(faults_of(organisation=coop.organisation)) == []
    assert list(faults_of_members(organisation=coop.organisation)) == []
