"""What offers said, and since when: a record is added wherever an offer is stored, changed or removed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from farmbuild.catalogue.models import Offer, OfferRecord
from farmbuild.orgs.models import Organisation, User

#: Columns that an offer and its record share.
SAID = ("material_id", "length", "pack", "lead_days", "valid_until", "supplier_code", "listed_as")


def record_of(
    offer: Offer,
    breaks: Iterable[tuple[int, Decimal]],
    *,
    organisation: Organisation,
    user: User | None,
    since: date,
    kind: str = OfferRecord.Kind.TYPED,
) -> OfferRecord:
    """Not stored yet."""
    return OfferRecord(
        organisation=organisation,
        kind=kind,
        offer_key=offer.pk,
        supplier_id=offer.supplier_id,
        prices=[[amount, str(price)] for amount, price in sorted(breaks)],
        currency=organisation.currency,
        since=since,
        by=user,
        **{name: getattr(offer, name) for name in SAID},
    )


def same_terms(one: OfferRecord, other: OfferRecord) -> bool:
    return one.breaks == other.breaks and all(getattr(one, name) == getattr(other, name) for name in SAID)


def last_records(*, organisation: Organisation, offers: Sequence[int]) -> dict[int, OfferRecord]:
    """The latest of each, by the keys of the offers; one query."""
    rows = OfferRecord.objects.of(organisation).filter(offer_key__in=offers).order_by("pk")
    return {row.offer_key: row for row in rows}


def keep(records: Sequence[OfferRecord], *, organisation: Organisation) -> int:
    """Store those that say something new; gives how many. None holds from before the one that it follows."""
    last = last_records(organisation=organisation, offers=[row.offer_key for row in records])
    new = []
    for row in records:
        before = last.get(row.offer_key)
        if before and row.kind != OfferRecord.Kind.REMOVED and same_terms(before, row):
            continue
        if before:
            row.since = max(row.since, before.since)
        new.append(row)
    OfferRecord.objects.bulk_create(new, batch_size=500)
    return len(new)
