"""All orders of a plan in one file: a draft that was edited stands in it as edited."""

from __future__ import annotations

import io
import zipfile

import pytest

from farmbuild.buying.drafting import services
from farmbuild.buying.drafting.joining import join_orders
from farmbuild.plans.archives import orders_archive
from farmbuild.workbooks.services import PlanFile
from tests.buying.drafting.sheets import order_rows

pytestmark = pytest.mark.django_db


def files(plan):
    with zipfile.ZipFile(io.BytesIO(orders_archive(plan=plan).data)) as archive:
        return {name: PlanFile(name, archive.read(name)) for name in archive.namelist()}


def test_an_edited_draft_is_there_as_edited(accepted, who):
    order = accepted.orders.get(number="1-1")
    line = order.lines.get(material__code="rail")
    (name,) = (name for name in files(accepted) if name.startswith("order-1-1"))
    planned = order_rows(files(accepted)[name])
    services.change_line(**who, order=order, line=line, quantity=line.quantity + 10, need_by=line.need_by)
    edited = order_rows(files(accepted)[name])
    packs = [(old["Packs"], new["Packs"]) for old, new in zip(planned, edited, strict=True)]
    assert [new - old for old, new in packs] == [int(row.pk == line.pk) for row in order.lines.all()]
    for old, new in zip(planned, edited, strict=True):
        same = old.keys() - {"Packs"}
        assert {key: old[key] for key in same} == {key: new[key] for key in same}


def test_a_joined_order_is_left_out(accepted, who):
    order = accepted.orders.get(number="1-1")
    hand = services.create_draft(
        **who, supplier=order.supplier, delivery_site=order.delivery_site, need_by=order.need_by
    )
    join_orders(**who, order=hand, other=order)
    assert not [name for name in files(accepted) if name.startswith("order-1-1")]
