"""Whoever comes second at a material keeps what the first changed."""

from __future__ import annotations

import pytest

from farmbuild.catalogue import services
from tests.factories import MaterialFactory
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_both_changes_stay(organisation, user):
    rail = MaterialFactory(organisation=organisation, name="Rail", note="")

    def change(**data):
        return lambda: services.change_material(organisation=organisation, user=user, material=rail, data=data)

    comes_second(change(name="Top rail"), change(note="Galvanised"))
    rail.refresh_from_db()
    assert (rail.name, rail.note) == ("Top rail", "Galvanised")
