"""Through random orders, bills, credit notes, loans, lots of members and stock that is open to members all that came in
is charged to somebody or lies in the yard, to the coin."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.buying.invoices.crediting import LineCredited, left_of, record_credit, sums_left_of
from farmbuild.buying.invoices.services import Paper, reverse_invoice
from farmbuild.buying.models import AdjustmentShare, CostAdjustment, Invoice, InvoiceLine, PurchaseOrderLine, Receipt
from farmbuild.buying.services import reverse_receipt
from farmbuild.coop.common.services import give_wish, open_lot, wish_for
from farmbuild.costs.law import faults_of, sides_of
from farmbuild.measure import places, round_money
from farmbuild.stock import services as stock
from farmbuild.stock.models import Lot, Movement, Repricing
from farmbuild.stock.owners.services import give_leave
from tests.buying.invoices.bought import DAY, bill, receive
from tests.buying.sent_order import sent_order
from tests.costs.making import Team
from tests.costs.test_law import Season
from tests.factories import MemberFactory, MemberSignInFactory
from tests.size import sized

pytestmark = pytest.mark.django_db
OPERATIONS = sized(160, 2_000)


class Trade(Season):
    """A season that buys by orders, lends, and has what members own and take."""

    def __init__(self, number, team):
        super().__init__(number, team)
        organisation = team.organisation
        self.coin = Decimal(1).scaleb(-places(organisation.currency))
        self.member = MemberFactory(organisation=organisation)
        self.signed_in = MemberSignInFactory(member=self.member).user
        self.orders = [self.new_order() for _ in range(3)]
        self.papers = 0
        for _ in range(2):
            self.members_lot()

    def kinds(self):
        mine = [self.arrive, self.arrive, self.bill, self.bill, self.bill_delivery, self.credit, self.credit]
        mine += [self.take_paper_back, self.take_receipt_back, self.put_down, self.members_lot, self.open_to_members]
        return [*super().kinds(), *mine, self.lend, self.give_back, self.arrive, self.bill, self.credit]

    def new_order(self):
        delivery = self.amount(20)
        sums = {"currency": self.team.organisation.currency, "delivery": delivery, "total": 219 + delivery}
        return sent_order(self.team.organisation, 20, 10, price="7.3", sums=sums)

    def amount(self, most):
        return round_money(self.chance.randint(0, most * 1000) * Decimal("0.001"), self.team.organisation.currency)

    def order(self):
        return self.chance.choice(self.orders)

    def arrive(self):
        order = self.order()
        came = [
            {
                "arrived": good + bad,
                "damaged": bad,
                "damage_reason": "bent" if bad else "",
                "unit_price": self.price() if self.chance.random() < 0.2 else None,
            }
            for good, bad in [(self.chance.randint(1, 4), self.chance.choice([0, 0, 1])) for _ in range(2)]
        ]
        receive(order, self.team.user, *came, damage_credited=self.chance.random() < 0.5)

    def number(self):
        self.papers += 1
        return f"P-{self.papers}"

    def bill(self):
        pieces = [self.chance.randint(0, 6), self.chance.randint(1, 4)]
        prices = [str(self.price()) if self.chance.random() < 0.5 else None for _ in range(2)]
        more = {"delivery": self.amount(9), "tax": self.amount(3), "recovered": self.chance.random() < 0.3}
        bill(self.order(), self.team.user, *pieces, number=self.number(), prices=prices, **more)

    def bill_delivery(self):
        bill(self.order(), self.team.user, number=self.number(), delivery=self.amount(9) + self.coin)

    def paper(self, **which):
        rows = list(Invoice.objects.filter(reversed_at=None, **which).order_by("-pk")[:8])
        if not rows:
            raise ValidationError("None yet.")
        return self.chance.choice(rows)

    def credit(self):
        invoice = self.paper(credits=None)
        lines = []
        for one in left_of(invoice):
            pieces = self.chance.randint(0, one.quantity)
            amount = self.amount(int(one.total) + 1) if self.chance.random() < 0.4 else None
            lines.append(LineCredited(one.line.pk, pieces, amount))
        left = sums_left_of(invoice)
        delivery, tax = (min(left[name], self.amount(3)) for name in ("delivery", "tax"))
        paper = Paper(self.number(), DAY, delivery=delivery, tax=tax)
        record_credit(**self.given, invoice=invoice, paper=paper, lines=lines, token=paper.number)

    def take_paper_back(self):
        reverse_invoice(**self.given, invoice=self.paper(), reason="Wrong")

    def take_receipt_back(self):
        rows = list(Receipt.objects.filter(reverses=None, reversed_by=None).order_by("-pk")[:3])
        if not rows:
            raise ValidationError("None yet.")
        reverse_receipt(**self.given, receipt=self.chance.choice(rows), reason="Wrong")

    def put_down(self):
        """To next to nothing: a lot then cannot bear what is credited of it."""
        rows = Lot.objects.filter(receipt_lines__receipt__order__in=self.orders, on_hand__gt=0)
        if (lot := rows.order_by("-pk").first()) is None:
            raise ValidationError("None yet.")
        stock.reprice_lot(**self.given, lot=lot, unit_cost=Decimal("0.0001"), reason="Rusty")

    def members_lot(self):
        given = {"material": self.material, "place": self.places[0], "received_on": DAY, "length": Decimal(3048)}
        lot = stock.receive_lot(**self.given, **given, quantity=8, owner=self.member)
        give_leave(**self.given, lot=lot, quantity=6)

    def open_to_members(self):
        lot = self.lot()
        offer = open_lot(**self.given, lot=lot, quantity=1)
        give_wish(**self.given, wish=wish_for(member=self.member, user=self.signed_in, offer=offer, quantity=1))


def amount_of(rows):
    return sum(rows.values_list("amount", flat=True))


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_all_that_was_bought_lent_and_handed_out_is_charged_or_lies_in_the_yard(organisation, user, currency):
    organisation.currency = currency
    organisation.save()
    trade = Trade(7, Team(organisation, user).rates()).work(OPERATIONS)
    assert [*faults_of(organisation=organisation)] == []
    sides = sides_of(organisation=organisation)
    assert sides.difference == 0
    assert sides.charged["handed out to members"] and sides.charged["lent"] and sides.came["later bills"], sides
    assert not Lot.objects.filter(owner__isnull=False).exclude(value=0).exists()
    assert not Movement.objects.filter(lot__owner__isnull=False).exclude(amount=0).exists()
    needed = {"arrive", "bill", "bill_delivery", "credit", "take_paper_back", "open_to_members", "lend", "issue"}
    assert needed - trade.done.keys() == set(), (trade.done, trade.refused)
    # What an invoice changed is on lots or borne: what a lot could not bear too.
    for reason in CostAdjustment.objects.exclude(invoice=None).values_list("reason", flat=True).distinct():
        changed = CostAdjustment.objects.filter(reason=reason)
        on_lots = Repricing.objects.filter(reason=reason)
        borne = AdjustmentShare.objects.filter(adjustment__in=changed)
        assert amount_of(changed) == amount_of(on_lots) + amount_of(borne), reason
    # What the goods of an invoice cost by now is what is left of its paper: goods, delivery, tax that stays.
    for invoice in Invoice.objects.filter(order__in=trade.orders, reversed_at=None, credits=None):
        landed, left = sum(one.landed for one in left_of(invoice)), sums_left_of(invoice)
        assert landed == left["total"] - (left["tax"] if invoice.tax_recovered else 0), invoice
    # What was booked on each line of the orders is what is left of the papers, as far as their pieces came.
    assert CostAdjustment.objects.exists()
    for line in PurchaseOrderLine.objects.filter(order__in=trade.orders):
        rows = InvoiceLine.objects.filter(order_line=line, invoice__reversed_at=None).values_list("quantity", "landed")
        assert sum(pieces for pieces, _ in rows) >= 0 and sum(cost for _, cost in rows) >= 0
