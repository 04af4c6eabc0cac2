"""Reads of lists."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.catalogue.models import Material, PriceList, Supplier
from farmbuild.catalogue.selectors import materials_in_use, materials_of
from farmbuild.orgs.models import Organisation


def lists_of(*, supplier: Supplier) -> QuerySet[PriceList]:
    """Of the supplier, the last first."""
    return supplier.price_lists.select_related("read_by", "taken_by")


def recent_lists(*, supplier: Supplier, most: int = 10) -> QuerySet[PriceList]:
    """Without their rows."""
    return lists_of(supplier=supplier).defer("sheets", "changes", "choices")[:most]


def materials_to_choose(*, organisation: Organisation) -> list[Material]:
    return list(materials_in_use(materials_of(organisation=organisation)).order_by("name"))
