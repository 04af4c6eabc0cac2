"""Pages of a long draft ask the database as often as those of a short one."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.buying.models import PurchaseOrderLine

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "path", ["", "change/", "join/", "send/", "lines/add/", "lines/of/{pk}/", "lines/of/{pk}/split/"]
)
def test_as_many_queries_for_many_lines(signed_in, yard, path):
    order = yard.order()
    line = yard.line(order, 30)
    other = yard.order()
    yard.line(other, 10, delivery_site=yard.creek)
    yard.line(order, 10, delivery_site=yard.creek)

    def count():
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert signed_in.get(f"/orders/{order.number}/{path}".format(pk=line.pk)).status_code == 200
        return len(asked)

    few = count()
    PurchaseOrderLine.objects.bulk_create(
        PurchaseOrderLine(
            **{field.attname: getattr(line, field.attname) for field in line._meta.concrete_fields}
            | {"id": None, "position": position, "delivery_site_id": yard.creek.pk}
        )
        for position in range(3, 90)
    )
    assert count() == few
