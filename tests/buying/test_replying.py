"""A supplier's reply is compared with the order and taken over when told; what was sent stays."""

from __future__ import annotations

import io
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import load_workbook

from farmbuild.buying import replying, sending
from farmbuild.buying.models import PurchaseOrder, Reply, SentWorkbook
from farmbuild.common.templatetags.farm import day, money
from tests.factories import MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
FIRST = 9


@pytest.fixture
def order(ready, organisation, user) -> PurchaseOrder:
    row = ready.orders.get(number="1-1")
    sending.send_order(organisation=organisation, user=user, order=row, sent_on=date(2027, 3, 2), how="by e-mail")
    row.refresh_from_db()
    return row


@pytest.fixture
def filled(order):
    """The file that was sent, with some cells typed over; ``{"N9": 14}``."""

    def made(changes, change=lambda sheet: None):
        book = load_workbook(io.BytesIO(bytes(SentWorkbook.objects.get(order=order).data)))
        for place, value in changes.items():
            book["Order"][place] = value
        change(book["Order"])
        out = io.BytesIO()
        book.save(out)
        return out.getvalue()

    return made


@pytest.fixture
def reply(order, filled, organisation, user):
    return lambda changes, change=lambda sheet: None: replying.make_reply(
        organisation=organisation, user=user, order=order, data=filled(changes, change), filename="reply.xlsx"
    )


@pytest.fixture
def take(order, organisation, user):
    return lambda answer: replying.apply_reply(organisation=organisation, user=user, order=order, reply=answer)


def kinds(answer: Reply) -> list[str]:
    return [row["kind"] for row in answer.rows]


def test_there_are_two_lines_to_talk_about(order):
    assert order.lines.count() == 2


def test_untouched_everything_is_as_ordered(reply, take, order):
    answer = reply({})
    assert set(kinds(answer)) == {"same"} and answer.differences == 0
    assert take(answer) == 0
    assert not order.lines.exclude(confirmed_price=None).exists()


def test_price_quantity_date_and_remark_are_taken_over(reply, take, order, signed_in):
    before = bytes(SentWorkbook.objects.get(order=order).data)
    first, second = order.lines.all()
    late = first.need_by + timedelta(days=3)
    answer = reply({"N9": 14.5, "O9": late, "P9": "short", "I10": second.quantity - 1})
    assert kinds(answer) == ["differs", "differs"]
    assert not order.lines.exclude(promised_on=None).exists()
    assert take(answer) == 2
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.confirmed_price, first.promised_on, first.remark) == (Decimal("14.5"), late, "short")
    assert (second.confirmed_quantity, second.confirmed_price, second.promised_on) == (second.quantity - 1, None, None)
    # As ordered stays beside as confirmed.
    coins = [
        (quantity * price).quantize(Decimal("0.01"), ROUND_HALF_UP)
        for quantity, price in ((first.quantity, first.confirmed_price), (second.quantity - 1, second.unit_price))
    ]
    page = text_of(signed_in.get("/orders/1-1/"))
    assert f"{money(order.goods, order)}; as confirmed {money(sum(coins), order)}" in page
    assert "some of it promised" in page
    assert f"{first.unit_price:.2f}, confirmed 14.50" in page
    assert f"{day(late)}: short" in page
    assert f"{second.quantity:,}, confirmed {second.quantity - 1:,}" in page
    assert signed_in.get("/orders/1-1/order.xlsx").content == before


def test_a_date_in_time_is_no_difference_but_is_taken_over(reply, take, order):
    first = order.lines.first()
    answer = reply({"O9": first.need_by})
    assert set(kinds(answer)) == {"same"}
    assert take(answer) == 1
    first.refresh_from_db()
    assert first.promised_on == first.need_by


def test_left_out_added_and_unknown_lines(reply, take, order):
    def change(sheet):
        sheet.delete_rows(10)
        sheet.insert_rows(10, 2)
        sheet["B10"], sheet["I10"], sheet["J10"] = "Something new", 4, 9
        sheet["A11"], sheet["B11"], sheet["I11"], sheet["J11"] = 77, "Not yours", 1, 1

    answer = reply({"N9": 20}, change)
    assert kinds(answer) == ["differs", "added", "added", "missing"]
    assert take(answer) == 1
    assert order.lines.count() == 2
    assert order.lines.get(position=1).confirmed_price == 20


class TestRefused:
    def test_bad_cells(self, reply, take, order):
        answer = reply({"N9": "=J9*2", "O10": "12/04/2027"})
        assert kinds(answer) == ["bad", "bad"]
        with pytest.raises(ValidationError, match="Some rows are not right yet"):
            take(answer)
        assert not order.lines.exclude(confirmed_price=None).exists()

    def test_one_number_twice(self, reply):
        answer = reply({"A10": 1})
        assert kinds(answer) == ["same", "bad", "missing"]
        assert "Row 9 has the number 1 too" in answer.rows[1]["problems"]["No."]

    def test_numbers_changed_round(self, reply):
        answer = reply({"A9": 2, "A10": 1})
        assert kinds(answer) == ["bad", "bad"]
        assert "Put the number of the line that is meant." in answer.rows[0]["problems"]["Item"]

    def test_taken_over_twice(self, reply, take):
        answer = reply({"N9": 20})
        take(answer)
        with pytest.raises(ValidationError, match="applied already"):
            take(answer)

    def test_an_order_that_was_cancelled_meanwhile(self, reply, take, order, organisation, user):
        answer = reply({"N9": 20})
        sending.cancel_order(organisation=organisation, user=user, order=order, reason="no")
        with pytest.raises(ValidationError, match="is cancelled"):
            take(answer)


class TestPages:
    def send(self, client, data, name="reply.xlsx"):
        return client.post("/orders/1-1/reply/", {"file": SimpleUploadedFile(name, data)}, follow=True)

    def test_read_looked_at_and_taken_over(self, signed_in, filled):
        page = self.send(signed_in, filled({"N9": 14.5, "O9": date(2027, 5, 2), "O10": date(2027, 5, 2)}))
        text = text_of(page)
        assert "of reply.xlsx differ" in text and "14.50" in text and "promised 2 May 2027" in text
        address = page.redirect_chain[-1][0]
        assert "As ordered" in text_of(signed_in.get(f"{address}?rows=all"))
        text = text_of(signed_in.post(f"{address}take/", follow=True))
        assert "still on order, promised 2 May 2027." in text
        assert "The reply is on 2 lines of order 1-1." in text
        assert "reply.xlsx" in text
        again = text_of(signed_in.post(f"{address}take/", follow=True))
        assert "applied already" in again

    def test_bad_cells_are_shown_with_their_reason(self, signed_in, filled):
        text = text_of(self.send(signed_in, filled({"N9": "=J9*2"})))
        assert "Row 9, Confirmed price:" in text and "holds the formula" in text
        assert "Send the corrected sheet" in text

    @pytest.mark.parametrize(
        ("data", "words"),
        [(b"rubbish\x00", "reply.xlsx is not a spreadsheet"), (b"", "is empty")],
    )
    def test_no_workbook(self, signed_in, order, data, words):
        assert words in text_of(self.send(signed_in, data))
        assert not Reply.objects.exists()

    def test_the_sheet_of_another_order(self, signed_in, filled):
        text = text_of(self.send(signed_in, filled({"B1": "Purchase order 9-3"})))
        assert "is the sheet of order 9-3, not of 1-1" in text

    def test_nothing_for_another_organisation(self, client, reply, order):
        answer = reply({"N9": 20})
        client.force_login(MembershipFactory().user)
        assert client.get("/orders/1-1/reply/").status_code == 404
        assert client.get(f"/orders/1-1/reply/{answer.pk}/").status_code == 404
        assert client.post(f"/orders/1-1/reply/{answer.pk}/take/").status_code == 404
        assert not order.lines.exclude(confirmed_price=None).exists()


def test_nothing_is_applied_to_an_order_that_was_cancelled(order, reply, take, organisation, user):
    answer = reply({})
    sending.cancel_order(organisation=organisation, user=user, order=order, reason="bought elsewhere")
    with pytest.raises(ValidationError, match="nothing of it is on order any more"):
        take(answer)
