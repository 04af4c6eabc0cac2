"""What came in on an order goes out again through the order, so that both agree."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from farmbuild.buying.models import Receipt, ReceiptLine
from farmbuild.stock import ledger
from tests.buying.sent_order import sent_order
from tests.factories import LotFactory

pytestmark = pytest.mark.django_db


def test_a_receipt_is_not_reversed_past_its_order(organisation, user):
    order = sent_order(organisation, 10)
    line = order.lines.get()
    lot = LotFactory(material=line.material, length=line.length, on_hand=10)
    receipt = Receipt.objects.create(
        organisation=organisation, order=order, number=1, received_on=date(2027, 4, 20), token="1", by=user
    )
    ReceiptLine.objects.create(receipt=receipt, order_line=line, arrived=10, lot=lot, place=lot.place, unit_price=11)
    with pytest.raises(ValidationError, match="Reverse that on the page of the order"):
        ledger.reverse(organisation=organisation, user=user, movement=lot.movements.get(), reason="never came")
