"""A 12 ft house of thirteen hoops, and what a browser sends for its readings."""

from __future__ import annotations

import pytest

from tests.factories import HouseFactory, SiteFactory


@pytest.fixture
def house(organisation):
    """48 ft at 4 ft: thirteen hoops."""
    return HouseFactory(site=SiteFactory(organisation=organisation), name="North house", slug="north-house")
