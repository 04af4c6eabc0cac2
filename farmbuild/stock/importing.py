"""Stock from a file: understood and shown first, stored only when the whole file is right, all of it or nothing.

Between the preview and the confirmation the rows wait in an ImportDraft of the person who sent them. It can be seen
by nobody else, is used up by the confirmation, and goes when the person sends another file or a day later.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from itertools import islice
from typing import Any

from django.db import transaction
from django.utils import timezone

from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.measure.usual import longer_than_any
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock import import_questions
from farmbuild.stock.bridge import length_unit, units_of
from farmbuild.stock.import_rows import HEADINGS, REQUIRED, Known, KnownMaterial, read_row
from farmbuild.stock.models import ImportDraft, ImportPart, Lot, Movement, Place
from farmbuild.stock.selectors import places_of
from farmbuild.stock.services import lock_references, take_numbers
from farmbuild.workbooks.reading import WorkbookError, read_table

#: All of them are put into stock by one transaction, which others wait for: about 3 s for so many.
MAX_ROWS = 10_000
#: Rows on one page of the preview.
PART = 100
#: Parts whose rows are stored by one statement, within what the database takes.
_PARTS_AT_ONCE = 20
KEEP = timedelta(days=1)
GONE = "This file was put into stock already, another one was sent, or the currency was changed."


class ImportStale(Exception):
    """What the rows refer to has changed since the preview; the text says what, for the person who sent them."""


def known_of(*, organisation: Organisation, today: date) -> Known:
    """What a file can refer to, in six queries."""
    materials: dict[str, KnownMaterial] = {}
    units = units_of(organisation)
    for material in materials_of(organisation=organisation):
        too_long = partial(longer_than_any, material.kind, units)
        known = KnownMaterial(material.code, material.name, material.by_length, too_long)
        materials.setdefault(material.name.casefold(), known)
        materials[material.code.casefold()] = known
    suppliers: dict[str, str] = {}
    for code, name in suppliers_of(organisation=organisation).values_list("code", "name"):
        suppliers.setdefault(name.casefold(), code)
        suppliers[code.casefold()] = code
    places = places_of(organisation=organisation).values_list("name", "site__name")
    sites = Site.objects.of(organisation).filter(archived_at=None).values_list("name", flat=True)
    return Known(
        unit=length_unit(organisation),
        today=today,
        currency=organisation.currency,
        materials=materials,
        suppliers=suppliers,
        places={name.casefold(): (name, site or "") for name, site in places},
        sites={name.casefold(): name for name in sites},
        references=set(Lot.objects.of(organisation).values_list("reference", flat=True)),
    )


@needs(Act.STOCK)
def make_draft(*, organisation: Organisation, user: User, data: bytes, filename: str, today: date) -> ImportDraft:
    """Read a file and keep its rows as understood. Raises WorkbookError when it is no table of lots at all."""
    table = read_table(data, filename, headings=HEADINGS, required=REQUIRED, max_rows=MAX_ROWS)
    if not table.rows:
        where = f"The sheet “{table.sheet}” of {filename}" if table.sheet else filename
        raise WorkbookError(f"{where} has headings but no rows under them. Type one row for each lot.")
    known = known_of(organisation=organisation, today=today)
    known.use_heading(table.heads.get("length", ""))
    rows = [read_row(row, known) for row in table.rows]
    bad = [row for row in rows if row["problems"]]
    import_questions.ask(rows, organisation=organisation)
    return _keep(organisation, user, filename, rows, bad)


def asked_of(draft: ImportDraft) -> int:
    """Of how many rows it is asked whether they are right; they are not stored before they can be read."""
    last = None if draft.bad_rows else draft.parts.filter(bad=True).last()
    return (last.number - 1) * PART + len(last.rows) if last else 0


@transaction.atomic
def _keep(
    organisation: Organisation, user: User, filename: str, rows: list[dict[str, Any]], bad: list[dict[str, Any]]
) -> ImportDraft:
    ImportDraft.objects.filter(user=user).delete()
    ImportDraft.objects.filter(made_at__lt=timezone.now() - KEEP).delete()
    draft = ImportDraft(
        organisation=organisation, user=user, filename=filename[-200:], rows=len(rows), bad_rows=len(bad)
    )
    draft.full_clean()
    draft.save()
    first = bad or [row for row in rows if row["questions"]]
    parts = [*_parts(draft, rows, bad=False), *_parts(draft, first, bad=True)]
    ImportPart.objects.bulk_create(parts, batch_size=200)
    return draft


def _parts(draft: ImportDraft, rows: list[dict[str, Any]], *, bad: bool) -> Iterator[ImportPart]:
    for number, start in enumerate(range(0, len(rows), PART), 1):
        yield ImportPart(draft=draft, bad=bad, number=number, rows=rows[start : start + PART])


@needs(Act.STOCK)
@transaction.atomic
def store_draft(*, organisation: Organisation, user: User, draft: ImportDraft) -> int:
    """Put every row of the draft into stock and use the draft up; gives how many lots.

    Raises ImportStale, and stores nothing, when a row is wrong, or has become wrong since the preview.
    """
    # Held first: of two confirmations at once the second finds the draft gone.
    lock_references(organisation=organisation)
    current = ImportDraft.objects.of(organisation).select_for_update().filter(pk=draft.pk, user=user).first()
    if current is None:
        raise ImportStale(GONE)
    if current.bad_rows:
        raise ImportStale("Some rows are not right yet, so nothing was stored. Correct the file and send it again.")
    writer = _Writer(organisation, user)
    parts = current.parts.filter(bad=False).iterator(chunk_size=_PARTS_AT_ONCE)
    while chunk := list(islice(parts, _PARTS_AT_ONCE)):
        writer.write([row for part in chunk for row in part.rows])
    current.delete()
    return writer.count


class _Writer:
    """Stores checked rows, a batch at a time, in the caller's transaction."""

    def __init__(self, organisation: Organisation, user: User) -> None:
        self.organisation, self.user, self.count = organisation, user, 0
        self.materials = {row.code: row for row in materials_of(organisation=organisation)}
        self.suppliers = dict(suppliers_of(organisation=organisation).values_list("code", "pk"))
        self.sites = dict(Site.objects.of(organisation).filter(archived_at=None).values_list("name", "pk"))
        self.places = {place.name.casefold(): place for place in places_of(organisation=organisation)}

    def write(self, rows: list[dict[str, Any]]) -> None:
        self._check(rows)
        self._make_places(rows)
        unnamed = sum(not row["reference"] for row in rows)
        numbers = iter(take_numbers(organisation=self.organisation, count=unnamed) if unnamed else ())
        lots = [self._lot(row, row["reference"] or next(numbers)) for row in rows]
        stored = Lot.objects.bulk_create(lots)
        Movement.objects.bulk_create(
            Movement(lot=lot, kind=Movement.Kind.RECEIVE, quantity=lot.on_hand, by=self.user) for lot in stored
        )
        self.count += len(stored)

    def _check(self, rows: list[dict[str, Any]]) -> None:
        again = "Nothing was stored. Send the file again to see which rows to correct."
        for row in rows:
            material = self.materials.get(row["material"])
            if material is None or material.by_length != (row["length"] is not None):
                raise ImportStale(f"Row {row['row']}: {row['name']} has changed since the preview. {again}")
            if row["supplier"] and row["supplier"] not in self.suppliers:
                raise ImportStale(f"Row {row['row']}: the supplier has changed since the preview. {again}")
            if row["new_place"] and row["site"] and row["site"] not in self.sites:
                raise ImportStale(f"Row {row['row']}: the site has changed since the preview. {again}")
        wanted = [row["reference"] for row in rows if row["reference"]]
        for reference in self._taken(wanted):
            raise ImportStale(f"A lot {reference} has come into stock since the preview. {again}")

    def _taken(self, wanted: list[str]) -> Iterable[str]:
        for start in range(0, len(wanted), 500):
            some = wanted[start : start + 500]
            yield from Lot.objects.of(self.organisation).filter(reference__in=some).values_list("reference", flat=True)

    def _make_places(self, rows: list[dict[str, Any]]) -> None:
        new: dict[str, Place] = {}
        for row in rows:
            key = row["place"].casefold()
            if key in self.places:
                continue
            place = new.setdefault(key, Place(organisation=self.organisation, name=row["place"]))
            if row["site"]:
                place.site_id = self.sites[row["site"]]
        if new:
            self.places |= {place.name.casefold(): place for place in Place.objects.bulk_create(new.values())}

    def _lot(self, row: dict[str, Any], reference: str) -> Lot:
        # The checks of the row are those of full_clean, which would take many seconds on a long file.
        return Lot(
            organisation=self.organisation,
            reference=reference,
            material=self.materials[row["material"]],
            length=None if row["length"] is None else Decimal(row["length"]),
            offcut=row["offcut"],
            place=self.places[row["place"].casefold()],
            supplier_id=self.suppliers[row["supplier"]] if row["supplier"] else None,
            unit_cost=Decimal(row["cost"]),
            received_on=date.fromisoformat(row["received"]),
            on_hand=row["quantity"],
        )
