"""Between tests every table that has rows is emptied, and its guards are there afterwards."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from farmbuild.common.doctor.schema import definitions
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.services import receive_lot
from tests.factories import MaterialFactory, PlaceFactory
from tests.flushing import STAY

pytestmark = pytest.mark.django_db(transaction=True)


def rows() -> dict[str, int]:
    models = [model for model in apps.get_models() if not model._meta.proxy and model._meta.managed]
    return {model._meta.db_table: model._default_manager.count() for model in models}


def test_nothing_is_left_and_nothing_is_lost(organisation, user):
    receive_lot(
        organisation=organisation,
        user=user,
        material=MaterialFactory(organisation=organisation),
        place=PlaceFactory(organisation=organisation),
        quantity=3,
        length=Decimal(1000),
        received_on=date(2027, 3, 1),
    )
    with pytest.raises(DatabaseError), transaction.atomic():
        Movement.objects.all()._raw_delete(connection.alias)
    before, kept = definitions(), {table: count for table, count in rows().items() if table in STAY}
    call_command("flush", verbosity=0, interactive=False, reset_sequences=False)
    assert {table: count for table, count in rows().items() if count} == kept
    assert definitions() == before
    assert set(kept) == STAY and all(kept.values())
    assert not Lot.objects.exists()
