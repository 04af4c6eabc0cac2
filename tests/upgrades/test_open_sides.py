"""Houses from before it was asked how their sides close: open where the film ended above the ground."""

from __future__ import annotations

from decimal import Decimal
from importlib import import_module
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import connection

from farmbuild.sites.models import House
from tests.factories import INCH, HouseFactory, MaterialFactory, SiteFactory

#: 48 in posts stand 24 in out.
STORED = [
    ("reaches", {"film_layers": 1, "film_side_allowance": INCH * 24}, "buried"),
    ("short by little", {"film_layers": 1, "film_side_allowance": INCH * 24 - Decimal("0.000001")}, "open"),
    ("short in two layers", {"film_layers": 2, "film_side_allowance": Decimal(0)}, "open"),
    ("deeper", {"film_layers": 1, "film_side_allowance": INCH * 18, "post_socket_depth": INCH * 6}, "buried"),
    ("no film", {"film_layers": 0, "film_side_allowance": Decimal(0)}, "buried"),
    ("no posts", {"film_layers": 1, "film_side_allowance": Decimal(0), "post_material": None}, "buried"),
]


@pytest.mark.django_db
def test_only_houses_whose_film_ended_above_the_ground_are_open(organisation):
    site = SiteFactory(organisation=organisation)
    film = MaterialFactory(organisation=organisation, kind="film", code="film")
    for name, values, _ in STORED:
        HouseFactory(site=site, name=name, film_material=film, **values)
    before = dict(House.objects.values_list("name", "saved_at"))
    migration = import_module("farmbuild.sites.migrations.0011_open_sides")
    for _ in range(2):
        migration.name_open_sides(apps, SimpleNamespace(connection=connection))
        assert dict(House.objects.values_list("name", "side_closing")) == {row[0]: row[2] for row in STORED}
    assert dict(House.objects.values_list("name", "saved_at")) == before
