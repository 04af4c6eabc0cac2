"""One walk through the demo season for all tests that read its pages in the same units and numbers."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
from django.db import transaction

from tests.size import LONG
from tests.walks import Walk, add_job, add_together, fetch, load


@pytest.fixture(scope="session")
def walked(django_db_setup, django_db_blocker) -> Callable[[str, str], Walk]:
    """``walked(units, decimal_sign)``: what every page and file says there. Nothing of it stays in the database."""

    @cache
    def walked(units: str, sign: str) -> Walk:
        own = {"unit_system": units, "decimal_sign": sign}
        if units == "metric":
            own["currency"] = "EUR"
        with django_db_blocker.unblock(), transaction.atomic():
            demo = load(**own)
            large(demo)
            add_job(demo)
            add_together(demo)
            found = fetch(with_marks=LONG or units == "imperial")
            transaction.set_rollback(True)
        return found

    return walked


def large(demo: Any) -> None:
    """Counts and prices that have thousands and four decimals."""
    from farmbuild.catalogue.models import PriceBreak
    from farmbuild.stock.models import Lot
    from farmbuild.stock.services import reprice_lot

    lot = Lot.objects.filter(organisation=demo.organisation).order_by("pk").last()
    reprice_lot(
        organisation=demo.organisation, user=None, lot=lot, unit_cost=Decimal("1234.5678"), reason="The invoice came"
    )
    step = PriceBreak.objects.filter(offer__organisation=demo.organisation, from_quantity__gt=1).order_by("pk").first()
    PriceBreak.objects.filter(pk=step.pk).update(from_quantity=12345)
