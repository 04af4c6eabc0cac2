"""Drafts from before thousands of millimetres were parted by a space; what went out stays as it went."""

from __future__ import annotations

from datetime import date
from importlib import import_module

import pytest
from django.apps import apps

from farmbuild.buying import sending
from farmbuild.buying.models import PurchaseOrderLine

pytestmark = pytest.mark.django_db
migration = import_module("farmbuild.buying.migrations.0012_parted_by_space")


def named(order, said: str) -> PurchaseOrderLine:
    line = order.lines.first()
    PurchaseOrderLine.objects.filter(pk=line.pk).update(description=said)
    return line


def test_what_a_draft_asks_for_is_said_anew_and_what_went_out_stays(ready, organisation, user):
    drafts = list(ready.orders.order_by("number"))
    sent, draft = named(drafts[0], "Rail, 12,192 mm"), named(drafts[1], "Strip 1,5 by 3,900 mm, 1,000 a roll")
    given = {"organisation": organisation, "user": user, "sent_on": date(2027, 3, 2), "how": "by e-mail"}
    sending.send_order(order=drafts[0], **given)
    # Pressed a second time it finds nothing more.
    for _ in range(2):
        migration.part_by_space(apps, None)
        said = [PurchaseOrderLine.objects.get(pk=line.pk).description for line in (sent, draft)]
        assert said == ["Rail, 12,192 mm", "Strip 1,5 by 3\u202f900 mm, 1,000 a roll"]
