"""Reads of places, lots and movements."""

from django.db.models import QuerySet

from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import Lot, Place


def places_of(*, organisation: Organisation) -> QuerySet[Place]:
    return Place.objects.of(organisation)


def lots_of(*, organisation: Organisation) -> QuerySet[Lot]:
    """Every lot, empty ones too, with material, place and supplier loaded."""
    return Lot.objects.of(organisation).select_related("material", "place", "supplier")


def lots_on_hand(*, organisation: Organisation) -> QuerySet[Lot]:
    return lots_of(organisation=organisation).filter(on_hand__gt=0)
