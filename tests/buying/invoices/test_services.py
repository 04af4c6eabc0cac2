"""What a supplier bills is kept once, and goods cost what was billed for them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from farmbuild.buying import receiving
from farmbuild.buying.invoices.services import (
    BilledProblems,
    LineBilled,
    Paper,
    check_invoice,
    record_invoice,
    reverse_invoice,
)
from farmbuild.buying.landing.adjusting import booked_so_far
from farmbuild.buying.landing.bridge import standing_receipt_lines
from farmbuild.buying.models import CostAdjustment, Invoice, InvoiceLine, ReceiptLine
from farmbuild.orgs.acts import NotAllowed
from farmbuild.orgs.models import Membership
from tests.buying.invoices.bought import DAY, DELIVERY, TAX, TOTAL, bill, example_order, receive
from tests.buying.sent_order import sent_order
from tests.factories import MembershipFactory, OrganisationFactory
from tests.size import sized

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def order(organisation):
    return example_order(organisation)


def cost(order) -> Decimal:
    """All that receipts of the order were booked at, with every adjustment."""
    booked = booked_so_far(order=order, rows=standing_receipt_lines(order))
    return sum((stock + expense for stock, expense in booked.values()), D(0))


def test_received_whole_it_adds_its_total(order, user):
    receive(order, user, 60, 9, 8)
    assert sum(ReceiptLine.objects.values_list("amount", flat=True)) == TOTAL
    assert [str(row.lot.unit_cost) for row in ReceiptLine.objects.order_by("pk")] == ["16.4928", "41.1189", "8.8250"]


def test_tax_that_is_recovered_is_no_cost(order, user, organisation):
    organisation.recovers_tax = True
    organisation.save()
    receive(order, user, 60, 9, 8)
    assert sum(ReceiptLine.objects.values_list("amount", flat=True)) == TOTAL - TAX


def test_part_receipts_add_up(order, user):
    for came in ((7, 2, 1), (13, 0, 0), (1, 0, 3), (39, 7, 4)):
        receive(order, user, *came)
    assert cost(order) == TOTAL


def test_the_same_bill_changes_nothing(order, user):
    receive(order, user, 60, 9, 8)
    invoice = bill(order, user, 60, 9, 8, delivery=DELIVERY, tax=TAX)
    assert (invoice.goods, invoice.total, invoice.total_off, invoice.tax_off) == (D("1266.10"), TOTAL, False, False)
    assert invoice.tax_expected == TAX and not CostAdjustment.objects.exists()
    assert sum(InvoiceLine.objects.values_list("landed", flat=True)) == TOTAL


def test_another_bill_is_booked_as_an_adjustment(order, user):
    receipt = receive(order, user, 60, 9, 8)
    before = list(receipt.lines.values_list("amount", flat=True))
    invoice = bill(order, user, 60, 9, 8, prices=["15.10"], delivery=D("97.40"), tax=TAX, total=D("1473"))
    assert cost(order) == D("1473")
    assert list(receipt.lines.values_list("amount", flat=True)) == before
    assert {row.invoice for row in CostAdjustment.objects.all()} == {invoice}
    reverse_invoice(organisation=order.organisation, user=user, invoice=invoice, reason="another farm's")
    assert cost(order) == TOTAL


def test_a_bill_before_the_goods(order, user):
    bill(order, user, 60, 9, 8, delivery=D("97.40"), tax=TAX)
    receive(order, user, 30, 9, 8)
    receive(order, user, 30)
    assert cost(order) == TOTAL + D("12.40")
    assert not CostAdjustment.objects.exists()


def test_several_bills_and_receipts(order, user):
    receive(order, user, 20, 9)
    bill(order, user, 20, 9, number="R-1", delivery=D("50"), tax=D("38.73"))
    receive(order, user, 40, 0, 8)
    bill(order, user, 40, 0, 8, number="R-2", delivery=D("41.11"), tax=D("40.41"))
    paid = sum(Invoice.objects.values_list("total", flat=True))
    assert cost(order) == paid == D("1266.10") + D("91.11") + D("79.14")


@pytest.mark.parametrize(("more", "off"), [("0.03", False), ("-0.03", False), ("0.04", True)])
def test_rounded_once_for_three_lines_the_tax_may_be_three_coins_off(order, user, more, off):
    assert bill(order, user, 60, 9, 8, delivery=D("97.40"), tax=TAX + D(more)).tax_off is off


def test_a_receipt_reversed_leaves_what_stands_at_its_bill(order, user):
    bill(order, user, 60, 9, 8, delivery=D("97.40"), tax=TAX)
    wrong = receive(order, user, 31, 9, 8)
    receiving.reverse_receipt(organisation=order.organisation, user=user, receipt=wrong, reason="miscounted")
    receive(order, user, 30, 9, 8)
    receive(order, user, 30)
    assert cost(order) == TOTAL + D("12.40")
    assert ReceiptLine.objects.filter(receipt__reverses=wrong).count() == 3


@pytest.mark.parametrize("credited", [True, False])
def test_damaged_pieces(order, user, credited):
    """Six rails are crushed: taken off the bill they cost nothing, else they are an expense; of 60 at 989.57."""
    receive(order, user, {"arrived": 60, "damaged": 6, "damage_reason": "crushed"}, damage_credited=credited)
    row = ReceiptLine.objects.get()
    assert row.amount == D("890.61")
    assert row.expense == (0 if credited else D("98.96"))


def test_the_same_form_is_one_invoice(order, user):
    first = bill(order, user, 60, token="form")
    assert bill(order, user, 60, token="form") == first
    assert Invoice.objects.count() == 1


def test_the_same_number_of_a_supplier_is_refused(order, user, organisation):
    invoice = bill(order, user, 60, number="Re 17")
    with pytest.raises(ValidationError, match=r"Invoice Re 17 .* is recorded already, on order 1-1") as refused:
        bill(order, user, 1, number=" RE  17 ")
    assert list(refused.value.message_dict) == ["number"]
    bill(sent_order(organisation, 5), user, 5, number="Re 17")
    reverse_invoice(organisation=organisation, user=user, invoice=invoice, reason="wrong order")
    assert bill(order, user, 60, number="Re 17").position == 2


class TestRefused:
    @pytest.mark.parametrize(
        ("quantities", "more", "words"),
        [
            ((0, 0, 0), {}, "Type how many pieces were billed"),
            ((5,), {"number": "  "}, "Type the number of the invoice"),
            ((5,), {"delivery": D("1.005")}, r"The smallest amount in USD is \$0.01"),
            ((5,), {"tax": D(-1)}, "Type an amount of zero or more"),
            ((5,), {"tax": D(100), "total": D(99)}, "The tax is more than the total"),
        ],
    )
    def test_bad_papers(self, order, user, quantities, more, words):
        with pytest.raises(ValidationError, match=words):
            bill(order, user, *quantities, **more)
        assert not Invoice.objects.exists()

    def test_a_bad_line_by_its_line(self, order, user):
        with pytest.raises(BilledProblems) as refused:
            bill(order, user, 10**12)
        assert [(key, field) for key, field, _ in refused.value.problems] == [(order.lines.first().pk, "quantity")]

    def test_a_line_of_another_order(self, order, user):
        other = sent_order(OrganisationFactory(), 9)
        with pytest.raises(ValidationError, match="is not on this order"):
            record_invoice(
                organisation=order.organisation,
                user=user,
                order=order,
                paper=Paper("R", DAY),
                lines=[LineBilled(other.lines.get().pk, 1)],
                token="t",
            )

    def test_whoever_does_not_buy(self, order, organisation):
        yard = MembershipFactory(organisation=organisation, role=Membership.Role.YARD).user
        with pytest.raises(NotAllowed):
            bill(order, yard, 5)

    def test_it_is_reversed_once_and_with_a_reason(self, order, user):
        invoice = bill(order, user, 5)
        given = {"organisation": order.organisation, "user": user, "invoice": invoice}
        with pytest.raises(ValidationError, match="Say why"):
            reverse_invoice(**given, reason=" ")
        reverse_invoice(**given, reason="twice")
        with pytest.raises(ValidationError, match="has been reversed already"):
            reverse_invoice(**given, reason="twice")

    def test_it_is_looked_at_once(self, order, user):
        given = {"organisation": order.organisation, "user": user, "invoice": bill(order, user, 5)}
        with pytest.raises(ValidationError, match="Say what came of it"):
            check_invoice(**given, words="")
        check_invoice(**given, words="credit note promised")
        with pytest.raises(ValidationError, match="said already what came of it: credit note promised"):
            check_invoice(**given, words="paid")

    def test_past_the_services(self, order, user):
        invoice = bill(order, user, 5)
        for rows, change in (
            (Invoice.objects.all(), {"total": 1}),
            (Invoice.objects.all(), {"reversed_at": None, "number": "x"}),
            (invoice.lines.all(), {"quantity": 6}),
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                rows.update(**change)


def test_many_lines_ask_as_often_as_five(organisation, user):
    counts = []
    for lines in (5, sized(100, 500)):
        order = sent_order(organisation, *[4] * lines, sums={"delivery": 100, "total": lines * 4 * D("13.4") + 100})
        receive(order, user, *[4] * lines)
        with CaptureQueriesContext(connection) as asked:
            bill(order, user, *[4] * lines, number=f"R-{lines}", delivery=D("120"))
        counts.append(len(asked))
        assert cost(order) == lines * 4 * D("13.4") + 120
    assert counts[1] <= counts[0] + 2
