"""Reads of materials, suppliers and offers."""

from collections.abc import Collection, Iterable
from datetime import date

from django.db.models import Count, Q, QuerySet

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Organisation


def materials_of(*, organisation: Organisation) -> QuerySet[Material]:
    return Material.objects.of(organisation).select_related("organisation")


def materials_kept(*, organisation: Organisation) -> list[Material]:
    """All of ``materials_of``."""
    return _materials_kept(organisation.pk)


@compiled_once
def _materials_kept(organisation: int) -> QuerySet[Material]:
    return Material.objects.filter(organisation_id=organisation).select_related("organisation")


def materials_listed(*, organisation: Organisation, archived: bool) -> QuerySet[Material]:
    """Those in use, or those that are not."""
    return materials_of(organisation=organisation).filter(archived_at__isnull=not archived)


def materials_in_use(rows: QuerySet[Material], *, own: Iterable[int | None] = ()) -> QuerySet[Material]:
    """Those of ``rows`` that are not archived, and by key those that something has already and keeps."""
    return rows.filter(Q(archived_at=None) | Q(pk__in=[key for key in own if key]))


def suppliers_of(*, organisation: Organisation) -> QuerySet[Supplier]:
    return Supplier.objects.of(organisation)


def suppliers_with_offers(*, organisation: Organisation) -> QuerySet[Supplier]:
    """Suppliers with ``offer_count``."""
    return suppliers_of(organisation=organisation).annotate(offer_count=Count("offers"))


def offers_of(*, organisation: Organisation, supplier: Supplier | None = None) -> QuerySet[Offer]:
    """Offers, of one supplier if it is given, with supplier, material and price breaks loaded."""
    rows = Offer.objects.of(organisation).select_related("supplier", "material").prefetch_related("breaks")
    return rows.filter(supplier=supplier) if supplier else rows


def silent_offers(*, supplier: Supplier) -> int:
    """How many of the supplier's offers have no lead time."""
    return supplier.offers.filter(lead_days=None).count()


def prices_of(*, organisation: Organisation, codes: Collection[str], on: date) -> QuerySet[PriceBreak]:
    """Every price of these materials in offers that stand on that day, offer by offer, in one query."""
    standing = Q(offer__valid_until=None) | Q(offer__valid_until__gte=on)
    rows = PriceBreak.objects.filter(
        standing, offer__organisation=organisation, offer__material__organisation=organisation
    )
    return (
        rows.filter(offer__material__code__in=codes)
        .select_related("offer__material", "offer__supplier")
        .order_by("offer__pk", "from_quantity")
    )
