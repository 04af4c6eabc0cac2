"""Eight people at one order's goods and bills at once, each with a connection of their own; on either database."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.buying.invoices.services import check_invoice, reverse_invoice
from farmbuild.buying.models import CostAdjustment, Invoice, InvoiceCheck
from farmbuild.stock import services as stock
from farmbuild.stock.cost_selectors import stock_books
from farmbuild.stock.models import Lot
from tests.buying.invoices.bought import bill, receive
from tests.buying.sent_order import sent_order
from tests.buying.test_receiving_races import THREADS, at_once
from tests.factories import HouseFactory, MembershipFactory

pytestmark = pytest.mark.django_db(transaction=True)
D = Decimal


@pytest.fixture
def member():
    return MembershipFactory()


def refused(work) -> str:
    try:
        work()
    except ValidationError as error:
        return " ".join(error.messages)
    return ""


def test_one_form_and_one_paper_are_one_invoice(member):
    first = sent_order(member.organisation, 10)
    second = sent_order(member.organisation, 10, supplier=first.supplier)
    receive(first, member.user, 10)
    done = at_once(lambda number: bill(first, member.user, 10, token="form", prices=["14"]))
    assert len({invoice.pk for invoice in done}) == 1 and Invoice.objects.count() == 1
    assert sum(CostAdjustment.objects.values_list("amount", flat=True)) == D(6)
    said = at_once(lambda number: refused(lambda: bill((first, second)[number % 2], member.user, 1, number="R-2")))
    assert sum(not words for words in said) == 1
    assert all("is recorded already" in words for words in said if words)
    assert Invoice.objects.filter(number="R-2").count() == 1


def test_reversed_and_looked_at_once(member):
    order = sent_order(member.organisation, 10)
    receive(order, member.user, 10)
    invoice = bill(order, member.user, 10, prices=["14"])
    given = {"organisation": member.organisation, "user": member.user, "invoice": invoice}
    said = at_once(lambda number: refused(lambda: check_invoice(**given, words=f"said by {number}")))
    assert sum(not words for words in said) == 1 == InvoiceCheck.objects.count()
    said = at_once(lambda number: refused(lambda: reverse_invoice(**given, reason="twice")))
    assert sum(not words for words in said) == 1
    assert sum(CostAdjustment.objects.values_list("amount", flat=True)) == 0
    assert Lot.objects.get().value == D(134)


def test_goods_bills_and_issues_at_once_add_up_to_what_was_billed(member):
    order = sent_order(member.organisation, THREADS * 2)
    house = HouseFactory(site__organisation=member.organisation)
    receive(order, member.user, THREADS)
    lot = Lot.objects.get()

    def work(number):
        if number % 2:
            bill(order, member.user, 4, number=f"R-{number}", prices=["15.37"], delivery=D("3.01"))
        else:
            receive(order, member.user, 2)
            stock.issue_pieces(
                organisation=member.organisation, user=member.user, lot=lot, quantity=1, house=house, reason="framing"
            )

    at_once(work)
    books = stock_books(organisation=member.organisation)
    assert books.off == 0
    paid = sum(Invoice.objects.values_list("total", flat=True))
    shares = sum(row.amount for made in CostAdjustment.objects.all() for row in made.shares.all())
    assert Invoice.objects.count() == THREADS // 2
    assert books.on_hand + books.houses + books.general + shares == paid == THREADS * 2 * D("15.37") + 4 * D("3.01")
