"""Drafts go out once, as one file that is kept; what follows which state is held by the database too."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date
from hashlib import sha256

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from openpyxl import load_workbook

from farmbuild.buying import sending
from farmbuild.buying.models import PurchaseOrder, SentWorkbook
from tests.factories import MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
State = PurchaseOrder.State
DAY = date(2027, 3, 2)


@pytest.fixture
def order(ready) -> PurchaseOrder:
    return ready.orders.get(number="1-1")


@pytest.fixture
def send(organisation, user):
    return lambda order, how="by e-mail": sending.send_order(
        organisation=organisation, user=user, order=order, sent_on=DAY, how=how
    )


class TestSend:
    def test_the_file_as_sent_is_kept_byte_for_byte(self, order, send, signed_in):
        draft = signed_in.get("/orders/1-1/order.xlsx").content
        send(order)
        kept = SentWorkbook.objects.get(order=order)
        assert kept.sha256 == sha256(kept.data).hexdigest()
        sheet = load_workbook(io.BytesIO(kept.data))["Order"]
        assert sheet["C6"].value.date() == DAY
        assert bytes(kept.data) != draft
        answer = signed_in.get("/orders/1-1/order.xlsx")
        assert answer.content == bytes(kept.data)
        assert kept.sha256 in text_of(signed_in.get("/orders/1-1/"))

    def test_it_stays_when_the_program_would_write_another(self, order, send, signed_in, monkeypatch):
        send(order)
        before = signed_in.get("/orders/1-1/order.xlsx").content
        monkeypatch.setattr("farmbuild.buying.files.order_workbook", lambda **_: b"another")
        assert signed_in.get("/orders/1-1/order.xlsx").content == before
        with zipfile.ZipFile(io.BytesIO(signed_in.get("/plans/1/orders.zip").content)) as archive:
            # Both orders are in it, and the one that was sent as it was sent.
            sent = next(name for name in archive.namelist() if name.startswith("order-1-1-"))
            assert archive.read(sent) == before
            assert len(archive.namelist()) == 2

    def test_a_changed_file_is_not_given_out(self, order, send, signed_in):
        send(order)
        kept = SentWorkbook.objects.get(order=order)
        # As a fault of the disk would, past every guard.
        with connection.cursor() as cursor:
            off = "DROP TRIGGER sent_workbook_never_edited"
            cursor.execute(off if connection.vendor == "sqlite" else f"{off} ON buying_sentworkbook")
        SentWorkbook.objects.filter(pk=kept.pk).update(data=bytes(kept.data)[:-1] + b"x")
        answer = signed_in.get("/orders/1-1/order.xlsx", follow=True)
        assert answer.redirect_chain
        assert "its checksum is another" in text_of(answer)

    def test_never_twice(self, order, send):
        send(order)
        with pytest.raises(
            ValidationError, match=r"Order 1-1 is sent and is not sent again\. It went out on 2 March 2027"
        ):
            send(order)
        assert SentWorkbook.objects.count() == 1

    def test_the_page_writes_it_down(self, order, signed_in, user):
        page = text_of(signed_in.get("/orders/1-1/send/"))
        assert "Mark as sent" in page
        answer = signed_in.post("/orders/1-1/send/", {"sent_on": "2027-03-02", "how": "by post"}, follow=True)
        assert re.search(
            r"Order 1-1 is sent; \d+ sticks still on order, the first needed by \d+ May 2027\.", text_of(answer)
        )
        order.refresh_from_db()
        assert (order.state, order.sent_on, order.sent_how, order.sent_by) == (State.SENT, DAY, "by post", user)
        again = signed_in.post("/orders/1-1/send/", {"sent_on": "2027-03-02", "how": "by post"})
        assert "is not sent again" in text_of(again)

    def test_a_day_that_cannot_be_read_is_refused_at_the_field(self, order, signed_in):
        page = text_of(signed_in.post("/orders/1-1/send/", {"sent_on": "soon", "how": "by post"}))
        assert "This day cannot be read" in page and "by post" in page
        order.refresh_from_db()
        assert order.state == State.DRAFT


class TestCancel:
    @pytest.mark.parametrize("first", [True, False])
    def test_with_a_reason_and_for_good(self, order, send, organisation, user, first):
        if first:
            send(order)
        given = {"organisation": organisation, "user": user, "order": order}
        with pytest.raises(ValidationError, match="Say why"):
            sending.cancel_order(**given, reason="  ")
        sending.cancel_order(**given, reason="bought elsewhere")
        order.refresh_from_db()
        assert (order.state, order.cancel_reason, order.cancelled_by) == (State.CANCELLED, "bought elsewhere", user)
        with pytest.raises(ValidationError, match="is cancelled and is not sent again"):
            send(order)
        with pytest.raises(ValidationError, match="is cancelled already"):
            sending.cancel_order(**given, reason="again")

    def test_its_page(self, order, signed_in):
        assert "Say why" in text_of(signed_in.post("/orders/1-1/cancel/", {"reason": ""}))
        page = text_of(signed_in.post("/orders/1-1/cancel/", {"reason": "yard closed"}, follow=True))
        assert "Order 1-1 is cancelled: yard closed." in page
        assert "Send this order" not in page
        assert signed_in.get("/orders/1-1/order.xlsx").status_code == 404


class TestDatabase:
    """Whoever writes, past every service."""

    def refused(self, order, **fields):
        with pytest.raises(DatabaseError), transaction.atomic():
            PurchaseOrder.objects.filter(pk=order.pk).update(**fields)

    def test_not_sent_without_a_day_or_a_workbook(self, order):
        self.refused(order, state=State.SENT)
        self.refused(order, state=State.SENT, sent_on=DAY)
        self.refused(order, sent_on=DAY)

    @pytest.mark.parametrize("state", [State.PART, State.RECEIVED])
    def test_a_draft_receives_nothing(self, order, state):
        self.refused(order, state=state, sent_on=DAY)

    def test_not_cancelled_without_a_reason(self, order):
        self.refused(order, state=State.CANCELLED)

    def test_a_cancelled_order_comes_back_to_nothing(self, order, send, organisation, user):
        send(order)
        sending.cancel_order(organisation=organisation, user=user, order=order, reason="no")
        for state in set(State.values) - {State.CANCELLED}:
            self.refused(order, state=state, cancelled_at=None, cancel_reason="", sent_on=DAY)

    def test_a_sent_order_is_no_draft_again_and_stays_as_ordered(self, order, send):
        send(order)
        self.refused(order, state=State.DRAFT, sent_on=None)
        self.refused(order, sent_on=date(2027, 3, 3))
        self.refused(order, total=1)
        with pytest.raises(DatabaseError), transaction.atomic():
            order.lines.update(quantity=1)
        with pytest.raises(DatabaseError), transaction.atomic():
            SentWorkbook.objects.filter(order=order).update(sha256="0" * 64)

    def test_nothing_arrived_without_a_receipt(self, order, send):
        send(order)
        with pytest.raises(DatabaseError), transaction.atomic():
            order.lines.update(arrived=5)
        self.refused(order, state=State.RECEIVED)

    def test_an_unknown_state(self, order):
        # No step leads to it.
        self.refused(order, state="lost")


class TestList:
    def test_filter_by_state(self, order, send, signed_in):
        send(order)
        page = text_of(signed_in.get("/orders/"))
        assert "Order 1-2 to Invented Lumber Yard goes out next" in page
        assert "1-1</a>" in page and "1-2</a>" in page
        page = text_of(signed_in.get("/orders/?state=sent"))
        assert "/orders/1-1/" in page and 'class="row-link" href="/orders/1-2/"' not in page
        assert "No order is in this state: received." in text_of(signed_in.get("/orders/?state=received"))
        assert "1-2</a>" in text_of(signed_in.get("/orders/?state=nonsense"))


@pytest.mark.parametrize("path", ["send/", "cancel/", "close/", "lines/1/close/"])
def test_nothing_for_another_organisation(client, order, path):
    client.force_login(MembershipFactory().user)
    assert client.get(f"/orders/1-1/{path}").status_code == 404
    assert client.post(f"/orders/1-1/{path}", {"reason": "x", "sent_on": "2027-03-02"}).status_code == 404
    order.refresh_from_db()
    assert order.state == State.DRAFT
