"""A supplier's list: read and kept as sent, understood as the person says, taken over whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from hashlib import sha256
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.catalogue.history import keep, record_of
from farmbuild.catalogue.lists.changes import CHANGED, NEW, SAME, Change
from farmbuild.catalogue.lists.columns import PIECE, Columns, guess
from farmbuild.catalogue.lists.rows import Known
from farmbuild.catalogue.lists.shown import change_rows, fingerprint
from farmbuild.catalogue.lists.understood import Understood, known_of, understand
from farmbuild.catalogue.models import Offer, OfferRecord, PriceBreak, PriceList, Supplier
from farmbuild.common.speaking import said_count
from farmbuild.measure import current_style
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.sheets import read_sheets, restore

MAX_ROWS, MAX_COLUMNS = 5000, 40
MAX_BYTES = 5 * 1024 * 1024
#: Lists that nobody took over are kept so long.
KEEP = timedelta(days=60)
PASTED = "Pasted list"
_TAKEN_FIELDS = ("material", "length", "pack", "lead_days", "valid_until", "supplier_code", "listed_as")


@needs(Act.PLAN)
@transaction.atomic
def make_list(*, organisation: Organisation, user: User, supplier: Supplier, data: bytes, filename: str) -> PriceList:
    """Keep a file, or rows that were pasted, with a first guess at its columns. Raises WorkbookError."""
    supplier = Supplier.objects.of(organisation).get(pk=supplier.pk)
    if len(data) > MAX_BYTES:
        raise WorkbookError(
            gettext("%(filename)s is larger than %(value)s MB. Send only the rows that you buy.")
            % {"filename": filename, "value": MAX_BYTES // 1024**2}
        )
    sheets = read_sheets(data, filename, decimal=current_style().decimal, most_rows=MAX_ROWS, most_columns=MAX_COLUMNS)
    old = PriceList.objects.of(organisation).filter(taken_at=None, read_at__lt=timezone.now() - KEEP)
    old.delete()
    row = PriceList(
        organisation=organisation,
        supplier=supplier,
        filename=filename[-200:],
        sha256=sha256(data).hexdigest(),
        sheets=[{"name": sheet.name, "rows": sheet.rows} for sheet in sheets],
        read_by=user,
    )
    known = known_of(organisation, supplier)
    guesses = [_guess(sheet.rows, known) for sheet in sheets]
    best = max(range(len(sheets)), key=lambda at: len(guesses[at].roles))
    row.said = {"sheet": best, "currency": organisation.currency} | _settings_of(guesses[best])
    row.full_clean(exclude=["said", "choices", "changes", "since"])
    row.save()
    return row


def _settings_of(columns: Columns) -> dict[str, Any]:
    return {"head": columns.head, "columns": {str(at): role for at, role in columns.roles.items()}}


def _guess(rows: Sequence[Any], known: Known) -> Columns:
    cells = [(number, [restore(cell) for cell in kept]) for number, kept in rows]
    names = {*known.by_listed, *known.by_name}
    return guess(cells, codes={*known.by_code, *(code.casefold() for code in known.materials)}, names=names)


@needs(Act.PLAN)
@transaction.atomic
def set_list(
    *,
    organisation: Organisation,
    user: User,
    price_list: PriceList,
    settings: Mapping[str, Any],
    choices: Mapping[str, str],
) -> PriceList:
    """Keep what the person says of the list. Another sheet is guessed at anew."""
    current = PriceList.objects.of(organisation).select_for_update().get(pk=price_list.pk)
    if current.taken_at:
        raise ValidationError(gettext("This list has been taken over already. Send it again to read it otherwise."))
    said = {name: value for name, value in settings.items() if value not in ("", None)}
    if said.get("sheet", 0) != current.said.get("sheet", 0):
        known = known_of(organisation, current.supplier)
        said |= _settings_of(_guess(current.sheets[said["sheet"]]["rows"], known))
        current.choices = {}
    else:
        current.choices = {row: chosen for row, chosen in (current.choices | dict(choices)).items() if chosen}
    current.said = said | {"currency": current.said.get("currency", organisation.currency)}
    current.save(update_fields=["said", "choices"])
    return current


@needs(Act.PLAN)
@transaction.atomic
def take_list(
    *,
    organisation: Organisation,
    user: User,
    price_list: PriceList,
    seen: str,
    today: date,
    end: bool | None,
    sure: bool = False,
) -> list[Change]:
    """Store what the list says, all of it or nothing; gives what changed.

    ``seen``: the fingerprint of what the page showed. ``end``: whether offers that the list leaves out end with the
    day before; None where it was not said. ``sure``: that prices far from those of before are right.
    """
    # Whoever stores a price waits here, so that what is compared stays as it is.
    lock_currency(organisation=organisation)
    current = PriceList.objects.of(organisation).select_for_update().get(pk=price_list.pk)
    if current.taken_at:
        raise ValidationError(gettext("This list has been taken over already."))
    found = understand(organisation=organisation, price_list=current, today=today)
    if not found.ready:
        raise ValidationError(found.problem or gettext("Some rows are not right yet, so nothing was taken over."))
    if fingerprint(found) != seen:
        raise ValidationError(
            gettext("Offers or materials were changed while this page was open, so nothing was taken over. Look again.")
        )
    if found.gone and end is None:
        raise ValidationError(
            gettext("Say whether the %(gone)s not in the list end or stay.")
            % {"gone": said_count(len(found.gone), "offer")}
        )
    if found.far and not sure:
        raise ValidationError(gettext("Some prices are more than ten times away from before. Say that they are right."))
    # Before it is written, because then what was is no more.
    current.changes = change_rows(found, end=bool(end))
    _write(found, organisation, user, current, end=bool(end))
    current.taken_at, current.taken_by, current.since = timezone.now(), user, found.terms.since
    current.save(update_fields=["taken_at", "taken_by", "since", "changes"])
    return found.changes


def _write(found: Understood, organisation: Organisation, user: User, of: PriceList, *, end: bool) -> None:
    new, changed, kept = [], [], []
    for change in found.changes:
        if change.kind == SAME and change.offer is not None and change.listed is not None:
            # How the supplier names it may be new all the same.
            if change.offer.listed_as != change.listed.name:
                kept.append(_put(change.offer, change))
        elif change.listed is not None:
            row = change.offer or Offer(organisation=organisation, supplier=of.supplier)
            (changed if change.kind == CHANGED else new).append((_put(row, change), change))
    Offer.objects.bulk_create([row for row, _ in new], batch_size=500)
    Offer.objects.bulk_update([*kept, *(row for row, _ in changed)], _TAKEN_FIELDS, batch_size=500)
    priced = [(row, change) for row, change in changed if change.was != change.now]
    PriceBreak.objects.filter(offer__in=[row for row, _ in priced]).delete()
    PriceBreak.objects.bulk_create(
        [
            PriceBreak(offer=row, from_quantity=amount, unit_price=price)
            for row, change in [*new, *priced]
            for amount, price in change.now
        ],
        batch_size=500,
    )
    records = [_record(row, change, organisation, user) for row, change in [*new, *changed]]
    if end:
        records += _end(found, organisation, user)
    keep(records, organisation=organisation)


def _put(offer: Offer, change: Change) -> Offer:
    listed = change.listed
    assert listed is not None
    offer.material, offer.length, offer.pack = listed.material, listed.length, listed.pack
    offer.lead_days, offer.valid_until = listed.lead_days, listed.until
    offer.supplier_code, offer.listed_as = listed.code, listed.name
    return offer


def _record(offer: Offer, change: Change, organisation: Organisation, user: User) -> OfferRecord:
    assert change.listed is not None
    return record_of(
        offer,
        change.now,
        organisation=organisation,
        user=user,
        since=change.listed.since,
        kind=OfferRecord.Kind.LIST,
    )


def _end(found: Understood, organisation: Organisation, user: User) -> list[OfferRecord]:
    """What is not in the list holds until the day before it."""
    last, records = found.terms.since - timedelta(days=1), []
    for change in found.gone:
        assert change.offer is not None
        change.offer.valid_until = last
        records.append(
            record_of(
                change.offer,
                change.was,
                organisation=organisation,
                user=user,
                since=found.terms.since,
                kind=OfferRecord.Kind.LIST,
            )
        )
    Offer.objects.bulk_update([change.offer for change in found.gone if change.offer], ["valid_until"], batch_size=500)
    return records


def differs(price_list: PriceList, settings: Mapping[str, Any]) -> bool:
    """Whether these are other settings than the list has."""
    return _plain(price_list.said) != _plain(settings)


def _plain(settings: Mapping[str, Any]) -> dict[str, Any]:
    """What is not said and what is usual are the same."""
    usual = {"sheet": 0, "head": 0, "per": PIECE}
    said = {name: value for name, value in settings.items() if value not in ("", None, False)}
    # What it was read in is nothing that the form says.
    return {name: value for name, value in (usual | said).items() if name != "currency"}


def said_of(changes: Sequence[Change], supplier: Supplier) -> str:
    counts = {kind: sum(change.kind == kind for change in changes) for kind in (NEW, CHANGED)}
    if not any(counts.values()):
        return gettext("Nothing changed in the offers of %(supplier)s.") % {"supplier": supplier}
    return gettext("%(new)s of %(supplier)s, %(changed)s changed.") % {
        "new": said_count(counts[NEW], "new offer"),
        "supplier": supplier,
        "changed": counts[CHANGED],
    }
