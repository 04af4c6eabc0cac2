"""Credit notes and delivery that is billed alone, as a person types them: what goods cost follows to the coin."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from farmbuild.buying.invoices.crediting import LineCredited, record_credit
from farmbuild.buying.invoices.services import Paper, reverse_invoice
from farmbuild.buying.models import Invoice, InvoiceLine
from farmbuild.costs.law import faults_of
from farmbuild.costs.statement.houses import costs_of
from farmbuild.stock.cost_selectors import stock_books
from farmbuild.stock.models import Lot
from farmbuild.stock.services import issue_pieces, reprice_lot
from tests.buying.invoices.bought import DAY, DELIVERY, TAX, TOTAL, D, bill, example_order, receive
from tests.buying.invoices.test_pages import hidden
from tests.buying.sent_order import sent_order
from tests.factories import HouseFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(organisation):
    return example_order(organisation)


def in_stock(organisation) -> Decimal:
    return stock_books(organisation=organisation).on_hand


def credit(client, invoice, **typed):
    """Of the form as it opens; ``quantity_1`` is the box of line 1."""
    address = f"{invoice.get_absolute_url()}credit/"
    form = hidden(client, address) | {"number": "C-1", "invoiced_on": "2027-05-02"}
    return client.post(address, form | {name.replace("_", "-"): value for name, value in typed.items()})


def test_damaged_pieces_are_credited_and_nothing_is_left_to_look_at(signed_in, order, user, organisation):
    """60, 9 and 8 pieces are billed, 6 of the first came damaged and are credited with their tax: 87.60 and 5.48."""
    receive(order, user, {"arrived": 60, "damaged": 6, "damage_reason": "crushed"}, 9, 8)
    invoice = bill(order, user, 60, 9, 8, delivery=DELIVERY, tax=TAX)
    assert "6 too many" in text_of(signed_in.get(f"/orders/{order.number}/"))
    answer = credit(signed_in, invoice, quantity_1="6", tax="5.48", total="93.08")
    assert answer.status_code == 302
    note = Invoice.objects.get(number="C-1")
    assert (note.goods, note.tax, note.total, note.total_off, note.tax_off) == (
        D("-87.60"),
        D("-5.48"),
        D("-93.08"),
        0,
        0,
    )
    assert in_stock(organisation) == TOTAL - D("93.08")
    page = text_of(signed_in.get(f"/orders/{order.number}/"))
    assert "too many" not in page and "Credit note C-1" in page and "not billed yet" not in page
    said = text_of(signed_in.get(note.get_absolute_url()))
    assert "credits $93.08 of <a href=" in said and ">invoice R-1</a>" in said
    said = text_of(signed_in.get(invoice.get_absolute_url()))
    assert "Credit note C-1</a>, 2 May 2027, takes $93.08 of it back." in said
    assert "Credit note of invoice R-1" in text_of(signed_in.get("/invoices/?show=all"))
    rows = signed_in.get("/invoices/invoices.csv").content.decode("utf-8-sig").splitlines()
    assert sum(D(row.split(",")[9]) for row in rows[1:]) == TOTAL - D("93.08") and "Credit note" in rows[2]
    # The same form again, and the paper again.
    assert "is recorded already" in text_of(credit(signed_in, invoice, quantity_1="1"))
    assert Invoice.objects.count() == 2


def test_less_money_is_borne_by_who_has_the_pieces(signed_in, organisation, user):
    """Of ten rails four are in a house: 20 credited are 8 for it and 12 for the yard."""
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    house = HouseFactory(site__organisation=organisation)
    own = {"organisation": organisation, "user": user}
    issue_pieces(**own, lot=Lot.objects.get(), quantity=4, house=house, reason="framing")
    invoice = bill(order, user, 10, prices=["15"])
    credit(signed_in, invoice, amount_1="20")
    [row] = costs_of(organisation=organisation)
    assert (row.total, in_stock(organisation)) == (52, 78)
    assert [*faults_of(organisation=organisation)] == []
    said = text_of(signed_in.get(invoice.get_absolute_url()))
    assert "$20.00 more. $20.00 of the line is credited." in said
    note = Invoice.objects.get(number="C-1")
    refused = signed_in.post(f"{invoice.get_absolute_url()}reverse/", {"reason": "wrong"})
    assert "Credit note C-1 came later and takes part of it back. Reverse that first." in text_of(refused)
    with pytest.raises(IntegrityError), transaction.atomic():
        Invoice.objects.filter(pk=invoice.pk).update(reversed_at=note.at, reverse_reason="past the page")
    signed_in.post(f"{note.get_absolute_url()}reverse/", {"reason": "of another order"})
    assert [row.total for row in costs_of(organisation=organisation)] == [60]
    assert in_stock(organisation) == 90
    assert [*faults_of(organisation=organisation)] == []


@pytest.mark.parametrize(
    ("currency", "price", "delivery", "tax"), [("JPY", "1301", "1000", "777"), ("KWD", "4.125", "10.001", "3.127")]
)
def test_in_currencies_without_decimals_and_with_three(signed_in, organisation, user, currency, price, delivery, tax):
    organisation.currency = currency
    organisation.save()
    order = sent_order(organisation, 7, 3, price=price, sums={"currency": currency})
    paid = bill(order, user, 7, 3, delivery=D(delivery), tax=D(tax)).total
    invoice = Invoice.objects.get()
    coin = D(1).scaleb(-3 if currency == "KWD" else 0)
    # Before the goods came, so that they cost that much less from the start.
    credit(signed_in, invoice, quantity_1="2", amount_2=str(coin), delivery=str(coin), tax=str(coin))
    note = Invoice.objects.get(number="C-1")
    assert note.total == -(2 * D(price) + 3 * coin)
    receive(order, user, {"arrived": 7, "damaged": 2, "damage_reason": "bent"}, 3)
    assert in_stock(organisation) == paid + note.total
    said = text_of(credit(signed_in, invoice, number="C-2", delivery="0.0001"))
    assert "decimal" in said and Invoice.objects.count() == 2


def test_what_is_credited_twice_or_not_billed_is_refused_at_its_box(signed_in, order, user):
    receive(order, user, 60, 9, 8)
    invoice = bill(order, user, 60, 9, 8, delivery=DELIVERY, tax=TAX)
    credit(signed_in, invoice, quantity_2="9")
    # Nothing is left of line 2, so it is not asked for.
    assert "quantity-2" not in hidden(signed_in, f"{invoice.get_absolute_url()}credit/")
    for typed, words in (
        ({"quantity_2": "1"}, "Type what is credited: pieces, an amount, delivery or tax."),
        ({"quantity_1": "61"}, "Type a number up to 60."),
        ({"quantity_1": "1", "amount_1": "876.01"}, "$876.00 is left of this line"),
        ({"delivery": "85.01"}, "$85.00 is left of Invoice R-1"),
        ({"tax": "79.15", "delivery": "85"}, "$79.14 is left of Invoice R-1"),
        ({}, "Type what is credited: pieces, an amount, delivery or tax."),
        ({"number": "", "quantity_1": "1"}, "Type the number of the credit note."),
    ):
        assert words in text_of(credit(signed_in, invoice, **({"number": "C-2"} | typed))), typed
    assert Invoice.objects.count() == 2
    note = Invoice.objects.get(number="C-1")
    assert signed_in.get(f"{note.get_absolute_url()}credit/").status_code == 404


def test_a_whole_invoice_credited_and_billed_anew(signed_in, order, user, organisation):
    receive(order, user, 60, 9, 8)
    invoice = bill(order, user, 60, 9, 8, delivery=D("97.40"), tax=D("90"))
    credit(signed_in, invoice, quantity_1="60", quantity_2="9", quantity_3="8", delivery="97.40", tax="90")
    note = Invoice.objects.get(number="C-1")
    assert note.total == -invoice.total
    sums = InvoiceLine.objects.values_list("order_line").order_by("order_line")
    assert {line: 0 for (line,) in sums} == {
        line: sum(InvoiceLine.objects.filter(order_line=line).values_list("landed", flat=True)) for (line,) in sums
    }
    bill(order, user, 60, 9, 8, number="R-2", delivery=DELIVERY, tax=TAX)
    assert in_stock(organisation) == TOTAL
    assert [*faults_of(organisation=organisation)] == []


def test_delivery_that_is_billed_alone_is_shared_by_value(signed_in, order, user, organisation):
    """Goods first and half of them used; then 97.40 of delivery on a paper of its own."""
    receive(order, user, 60, 9, 8)
    bill(order, user, 60, 9, 8, tax=TAX)
    house = HouseFactory(site__organisation=organisation)
    own = {"organisation": organisation, "user": user}
    issue_pieces(**own, lot=Lot.objects.first(), quantity=30, house=house, reason="framing")
    address = f"/orders/{order.number}/invoices/new/"
    form = hidden(signed_in, address) | {"number": "D-9", "invoiced_on": "2027-05-01"}
    assert "Type how many pieces were billed" in text_of(signed_in.post(address, form))
    assert signed_in.post(address, form | {"delivery": "97.40"}).status_code == 302
    paper = Invoice.objects.get(number="D-9")
    assert sum(paper.lines.values_list("landed", flat=True)) == D("97.40")
    [row] = costs_of(organisation=organisation)
    assert row.total + in_stock(organisation) == TOTAL - DELIVERY + D("97.40")
    assert [*faults_of(organisation=organisation)] == []
    said = text_of(signed_in.get(paper.get_absolute_url()))
    assert "bills $97.40" in said and "too many" not in said
    # All of it is credited again.
    credit(signed_in, paper, delivery="97.40")
    [row] = costs_of(organisation=organisation)
    assert row.total + in_stock(organisation) == TOTAL - DELIVERY
    assert [*faults_of(organisation=organisation)] == []


def test_an_invoice_stays_while_a_credit_of_it_counts(order, user, organisation):
    receive(order, user, 60)
    invoice = bill(order, user, 60)
    given = {"organisation": organisation, "user": user}
    note = record_credit(
        **given, invoice=invoice, paper=Paper("C-1", DAY), lines=[LineCredited(order.lines.first().pk, 1)], token="t"
    ).invoice
    with pytest.raises(ValidationError, match="came later and takes part of it back"):
        reverse_invoice(**given, invoice=invoice, reason="typed twice")
    reverse_invoice(**given, invoice=note, reason="another order")
    assert reverse_invoice(**given, invoice=invoice, reason="typed twice").reversed_at


def test_the_last_pieces_are_credited_at_all_that_is_left_of_them(order, user, organisation):
    """60 were billed at 876.00; 20 of them are credited at 300.00 and not at 292.00, so the rest comes to 576.00."""
    receive(order, user, 60)
    invoice, line = bill(order, user, 60), order.lines.first().pk
    given = {"organisation": organisation, "user": user, "invoice": invoice}
    for number, credited in (("C-1", LineCredited(line, 20, D("300"))), ("C-2", LineCredited(line, 40))):
        record_credit(**given, paper=Paper(number, DAY), lines=[credited], token=number)
    assert [*Invoice.objects.filter(credits=invoice).order_by("pk").values_list("goods", flat=True)] == [-300, -576]


def test_the_database_refuses_what_no_credit_note_is(order, user, organisation):
    receive(order, user, 60, 9, 8)
    invoice = bill(order, user, 60, 9, 8)
    other = bill(sent_order(organisation, 4), user, 4, number="R-9")
    given = {"organisation": organisation, "user": user, "token": "t"}
    note = record_credit(
        **given, invoice=invoice, paper=Paper("C-1", DAY), lines=[LineCredited(order.lines.first().pk, 1)]
    )
    line = note.invoice.lines.get()
    for change in (
        lambda: InvoiceLine.objects.bulk_create(
            [
                InvoiceLine(
                    invoice=invoice, order_line=line.order_line, quantity=-1, unit_price=0, line_total=0, landed=0
                )
            ]
        ),
        lambda: Invoice.objects.filter(pk=note.invoice.pk).update(credits=other),
        lambda: Invoice.objects.filter(pk=other.pk).update(total=-1),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_a_lot_is_never_worth_less_than_nothing(signed_in, organisation, user):
    """Ten pieces that somebody put down to 1.00 each: of 50 credited 10 are off them, and 40 nobody's."""
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    invoice = bill(order, user, 10)
    reprice_lot(organisation=organisation, user=user, lot=Lot.objects.get(), unit_cost=D(1), reason="Rusty")
    credit(signed_in, invoice, amount_1="50")
    [row] = costs_of(organisation=organisation)
    assert (row.total, in_stock(organisation)) == (-40, 0)
    assert [*faults_of(organisation=organisation)] == []
