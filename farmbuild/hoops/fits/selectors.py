"""Reads of fits."""

from __future__ import annotations

from django.db.models import Count, QuerySet

from farmbuild.hoops.fits.models import HouseFit
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

__all__ = ["fits_of", "latest_fit"]


def fits_of(*, organisation: Organisation, house: House) -> QuerySet[HouseFit]:
    """The latest first, with ``measured``, the number of hoops measured."""
    rows = HouseFit.objects.of(organisation).filter(house=house).select_related("by", "house", "organisation")
    return rows.annotate(measured=Count("readings")).order_by("-pk")


def latest_fit(*, organisation: Organisation, house: House) -> HouseFit | None:
    """The one that counts, with its readings, or None."""
    return fits_with_readings(organisation=organisation, house=house).first()


def fits_with_readings(*, organisation: Organisation, house: House) -> QuerySet[HouseFit]:
    return fits_of(organisation=organisation, house=house).prefetch_related("readings")


def is_latest(*, fit: HouseFit) -> bool:
    """Whether it is the one that counts."""
    return not HouseFit.objects.filter(house=fit.house_id, pk__gt=fit.pk).exists()
