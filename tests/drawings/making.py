"""Houses to draw: starters as they are stored, in both unit systems."""

from __future__ import annotations

from datetime import date

from farmbuild.drawings.drawing_set import DrawingSet, drawing_set
from farmbuild.drawings.scales import paper_named
from farmbuild.orgs.clock import zone_in_force
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of
from farmbuild.sites.services import create_house, prepare_starter
from farmbuild.sites.starters import starter_named, starter_values
from tests.factories import SiteFactory

#: (units, starter): a tunnel of one stick a hoop, houses of two and three sticks, arcs and straight legs.
HOUSES = [
    ("imperial", "low-tunnel-3-4"),
    ("imperial", "12-ft-house"),
    ("imperial", "20-ft-house"),
    ("metric", "2-m-tunnel"),
    ("metric", "5-m-house"),
    ("metric", "8-m-house"),
]


def house_of(user, slug: str, *, name: str = "Tunnel field (invented)", **changes) -> House:
    """Of the starter, with ``changes`` to its spec; loaded as a page loads it."""
    organisation, starter = user.memberships.get().organisation, starter_named(slug)
    with zone_in_force(organisation):
        prepare_starter(organisation=organisation, user=user, starter=starter)
        data = starter_values(organisation=organisation, starter=starter) | changes
        site = SiteFactory(organisation=organisation)
        house = create_house(
            organisation=organisation, user=user, site=site, name=name, need_date=date(2027, 5, 1), data=data
        )
    return any_house_of(organisation=organisation).get(pk=house.pk)


def set_of(house: House, paper: str = "") -> DrawingSet:
    units = house.organisation.unit_system
    with zone_in_force(house.organisation):
        return drawing_set(house, paper=paper_named(paper, units), by="Ana (invented)")
