"""A process that receives goods is killed at random points: afterwards every receipt is whole or not there."""

from __future__ import annotations

import pytest

from farmbuild.buying.models import Receipt
from farmbuild.stock.models import Lot
from tests.buying.books import recount
from tests.buying.sent_order import sent_order
from tests.factories import OrganisationFactory
from tests.stock.killing import kill_again_and_again

pytestmark = pytest.mark.django_db(transaction=True)
LINES = 25


def test_whole_or_not_there():
    organisation = OrganisationFactory()
    order = sent_order(organisation, *[1_000_000] * LINES)
    said = kill_again_and_again(
        "tests.buying.receiving_worker",
        organisation.pk,
        order.pk,
        after_each=lambda tokens: _check(organisation, order, tokens),
        seed=20270420,
    )
    assert len(said) > 1


def _check(organisation, order, said: list[str]) -> None:
    receipts = list(Receipt.objects.of(organisation).prefetch_related("lines"))
    assert set(said) <= {receipt.token for receipt in receipts}
    for receipt in receipts:
        lines = list(receipt.lines.all())
        assert len(lines) == LINES
        assert all(line.lot_id and line.arrived == 3 for line in lines)
    assert Lot.objects.of(organisation).count() == LINES * len(receipts)
    recount(organisation)
    order.refresh_from_db()
    assert order.state == ("part" if receipts else "sent")
