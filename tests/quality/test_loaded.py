"""A season that is put back is what was loaded, to the letter, with its guards."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from farmbuild.common.guards import as_made
from farmbuild.stock.models import Movement
from tests import loaded
from tests.factories import OrganisationFactory
from tests.walks import AS_IT_IS, load

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="loaded anew each time on PostgreSQL"),
]


def test_what_is_put_back_is_what_was_loaded():
    guards = as_made()
    with transaction.atomic():
        first = load(**AS_IT_IS)
        rows = loaded.written()
        assert {name: getattr(first.organisation, name) for name in AS_IT_IS} == AS_IT_IS
        transaction.set_rollback(True)
    again = load()
    assert again == first and again.plan is not first.plan and again.fresh
    assert loaded.written() == rows and sum(map(len, rows.values())) > 2000
    assert as_made() == guards
    connection.check_constraints()
    with pytest.raises(DatabaseError), transaction.atomic():
        Movement.objects.all()._raw_delete("default")


def test_beside_other_rows_it_is_loaded_anew(monkeypatch):
    monkeypatch.setitem(loaded._kept, ("key", timezone.now().date()), (loaded.written(), {}, None))
    OrganisationFactory()
    assert loaded.loaded("key", lambda: "anew") == "anew"
