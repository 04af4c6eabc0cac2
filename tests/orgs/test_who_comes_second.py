"""Of two who change an organisation at once neither undoes what the other changed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.orgs.services import save_organisation
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_both_changes_stay(organisation, user):
    def change(**data):
        return lambda: save_organisation(organisation=organisation, user=user, data=data)

    comes_second(change(name="Invented Meadow"), change(kerf=Decimal(2)))
    organisation.refresh_from_db()
    assert (organisation.name, organisation.kerf) == ("Invented Meadow", 2)
