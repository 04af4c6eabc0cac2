"""A process that receives goods is killed at random points: afterwards every receipt is whole or not there.

FARMBUILD_KILLS says how often (10).
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import quote

import pytest
from django.db import connection

from farmbuild.buying.models import Receipt
from farmbuild.stock.models import Lot
from tests.buying.books import recount
from tests.buying.sent_order import sent_order
from tests.factories import OrganisationFactory

pytestmark = pytest.mark.django_db(transaction=True)
ROOT = Path(__file__).resolve().parent.parent.parent
KILLS = int(os.environ.get("FARMBUILD_KILLS", "10"))
LINES = 25


def database_url() -> str:
    """Of the database that this test runs on."""
    now = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{now['NAME']}"
    return f"postgresql://{quote(now['USER'])}@{now['HOST']}:{now['PORT']}/{now['NAME']}"


def test_whole_or_not_there(tmp_path):
    organisation = OrganisationFactory()
    order = sent_order(organisation, *[1_000_000] * LINES)
    chance = random.Random(20270420)
    said: list[str] = []
    for _ in range(KILLS):
        worker = subprocess.Popen(
            [sys.executable, "-m", "tests.buying.receiving_worker", str(organisation.pk), str(order.pk)],
            cwd=ROOT,
            env=os.environ
            | {
                "DJANGO_SETTINGS_MODULE": "farmbuild.settings",
                "DATABASE_URL": database_url(),
                "FARMBUILD_DATA": str(tmp_path),
            },
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert worker.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0.0, 0.6))
        finally:
            worker.send_signal(signal.SIGKILL)
            rest, _ = worker.communicate()
        # The last line may be cut off by the kill.
        said += [line for line in rest.split("\n") if len(line) == 36]
        _check(organisation, order, said)
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
