"""Houses made from the starter specs."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from farmbuild.sites.models import House
from farmbuild.sites.services import create_house, prepare_starter
from farmbuild.sites.starters import starter_named
from tests.factories import SiteFactory

FOOT = Decimal("304.8")
NEED = date(2027, 5, 12)


@pytest.fixture
def build(organisation, user):
    """``build("12-ft-house")``: a house of that starter."""

    def make(starter: str, **changes) -> House:
        given = {"organisation": organisation, "user": user}
        values = prepare_starter(**given, starter=starter_named(starter))
        site = SiteFactory(organisation=organisation)
        return create_house(**given, site=site, name=starter, need_date=NEED, data=values | changes)

    return make
