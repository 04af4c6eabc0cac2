"""Reads of sites and houses."""

from django.db.models import QuerySet

from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import MATERIAL_FIELDS
from farmbuild.sites.models import House, Site


def sites_of(*, organisation: Organisation) -> QuerySet[Site]:
    """Sites that are not archived."""
    return Site.objects.of(organisation).filter(archived_at=None)


def houses_of(*, organisation: Organisation) -> QuerySet[House]:
    """Houses that are not archived, on sites that are not archived, with site and recipe loaded."""
    return (
        House.objects.of(organisation)
        .filter(archived_at=None, site__archived_at=None)
        .select_related("site", "recipe__tube")
    )


def houses_with_materials(*, organisation: Organisation) -> QuerySet[House]:
    """The same houses with every material loaded, for planning."""
    return houses_of(organisation=organisation).select_related(*MATERIAL_FIELDS)
