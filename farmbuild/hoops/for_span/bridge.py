"""Benders, tubes and offers as planning takes them."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.catalogue.bridge import material_input, offer_input
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import offers_of
from farmbuild.hoops.benders.bridge import TIGHTEST_IN_DIAMETERS
from farmbuild.hoops.benders.selectors import any_bender_of
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.planning.advice.hoops import Bends, HoopWay, Stick, hoops_for_span, on_any_radius
from farmbuild.planning.house.fields import INCH
from farmbuild.planning.netting.market import Market
from farmbuild.sites.bridge import shape_of
from farmbuild.sites.selectors import houses_of

__all__ = [
    "TIGHTEST_IN_DIAMETERS",
    "USUAL_INSERTION",
    "HoopWay",
    "hoops_for_span",
    "hoops_wanted",
    "inputs_of",
    "on_any_radius",
]

#: Where nobody says otherwise: 4 in (common practice, no source).
USUAL_INSERTION = INCH * 4


def inputs_of(*, organisation: Organisation) -> tuple[list[Bends], list[Stick]]:
    """Benders in use by their measured radius, else the rated one, and tubes in each length that holds on offer."""
    benders = [
        Bends(
            bender.name,
            bender.rated_radius if bender.measured_radius is None else bender.measured_radius,
            frozenset(tube.code for tube in bender.tubes.all()),
        )
        for bender in any_bender_of(organisation=organisation).filter(archived_at=None).prefetch_related("tubes")
    ]
    return benders, list(_sticks(organisation))


def hoops_wanted(*, organisation: Organisation, post_span: Decimal) -> tuple[int, int]:
    """Of houses in use whose posts are that far apart: how many there are, and how many hoops they take in all."""
    houses = houses_of(organisation=organisation).filter(post_span=post_span)
    counts = [shape_of(house).hoops for house in houses]
    return len(counts), sum(counts)


def _sticks(organisation: Organisation) -> Iterator[Stick]:
    offers = offers_of(organisation=organisation).filter(material__kind=Material.Kind.TUBE, material__archived_at=None)
    tubes = {offer.material.code: material_input(offer.material) for offer in offers}
    today = today_of(organisation=organisation)
    market = Market.of([offer_input(offer) for offer in offers], today)
    for (code, length), found in market.offers.items():
        if length is not None:
            yield Stick(tubes[code], length, min(one.breaks[0].unit_price for one in found))
