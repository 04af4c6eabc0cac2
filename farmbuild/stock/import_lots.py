"""The rows of a confirmed file as lots that wait, and how all of them become lots at once.

Waiting lots are written some at a time, so that other people write between. What makes them lots is two statements of
the database over its own rows: 60,000 of them were in stock within 3 s on SQLite and on PostgreSQL (seen), where one
transaction that sends every row kept others waiting for 3 s in every 10,000. The alternative, lots that are there and
that nobody sees yet, would have every reader of stock leave them out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import connection, models
from django.db.models import Exists, Min, OuterRef
from django.utils import timezone

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock.bridge import places
from farmbuild.stock.models import ImportDraft, ImportLot, Lot, Movement, Place
from farmbuild.stock.selectors import members_of, places_of
from farmbuild.stock.services import lock_references, take_numbers

#: Each of them is kept in the history.
MAX_NEW_PLACES = 2000
AGAIN = "Nothing was stored. Send the file again to see which rows to correct."


class ImportStale(Exception):
    """What the rows refer to has changed since the preview; the text says what, for the person who sent them."""


class Preparing:
    """Writes rows as understood as lots that wait, in the caller's transactions."""

    def __init__(self, draft: ImportDraft) -> None:
        organisation = draft.organisation
        self.draft, self.organisation = draft, organisation
        self.materials = {row.code: row for row in materials_of(organisation=organisation)}
        self.suppliers = dict(suppliers_of(organisation=organisation).values_list("code", "pk"))
        self.owners = dict(members_of(organisation=organisation).values_list("name", "pk"))
        self.sites = dict(Site.objects.of(organisation).filter(archived_at=None).values_list("name", "pk"))
        parts = draft.parts.filter(bad=False).values_list("rows", flat=True).iterator(chunk_size=20)
        self.typed = {row["reference"] for rows in parts for row in rows if row["reference"]}

    def write(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Raises ImportStale."""
        numbers = self._numbers(sum(not row["reference"] for row in rows))
        ImportLot.objects.bulk_create([self._lot(row, row["reference"] or next(numbers)) for row in rows])

    def _numbers(self, count: int) -> Iterator[str]:
        """The next numbers, but those that another row of the file has as its own."""
        given: list[str] = []
        while missing := count - len(given):
            taken = take_numbers(organisation=self.organisation, count=missing)
            given += [reference for reference in taken if reference not in self.typed]
        return iter(given)

    def _lot(self, row: Mapping[str, Any], reference: str) -> ImportLot:
        # The checks of the row are those of full_clean, which would take many seconds on a long file.
        material = self.materials.get(row["material"])
        if material is None or material.by_length != (row["length"] is not None):
            raise _changed(row["row"], row["name"])
        if row["supplier"] and row["supplier"] not in self.suppliers:
            raise _changed(row["row"], "the supplier")
        if row.get("owner") and row["owner"] not in self.owners:
            raise _changed(row["row"], "the owner")
        if row["new_place"] and row["site"] and row["site"] not in self.sites:
            raise _changed(row["row"], "the site")
        return ImportLot(
            draft=self.draft,
            row=row["row"],
            reference=reference,
            material=material,
            length=None if row["length"] is None else Decimal(row["length"]),
            offcut=row["offcut"],
            place=row["place"],
            site_id=self.sites.get(row["site"]) if row["new_place"] else None,
            supplier_id=self.suppliers[row["supplier"]] if row["supplier"] else None,
            owner_id=self.owners[row["owner"]] if row.get("owner") else None,
            unit_cost=Decimal(row["cost"]),
            received_on=date.fromisoformat(row["received"]),
            quantity=row["quantity"],
        )


def _changed(row: int, what: str) -> ImportStale:
    return ImportStale(f"Row {format_count(row)}: {what} has changed since the preview. {AGAIN}")


def become_lots(*, organisation: Organisation, user: User, draft: ImportDraft) -> int:
    """All waiting lots of the draft become lots, each with its movement, in the caller's transaction; gives how many.

    Raises ImportStale where what they refer to has changed, with nothing stored once that transaction is given up.
    """
    lock_references(organisation=organisation)
    waiting = ImportLot.objects.filter(draft=draft).order_by()
    _check_rows_referred_to(waiting, organisation)
    there = Lot.objects.of(organisation).filter(reference=OuterRef("reference")).values("pk")
    if taken := waiting.filter(Exists(there)).order_by("row").first():
        raise ImportStale(f"A lot {taken.reference} has come into stock since the preview. {AGAIN}")
    _make_places(waiting, organisation)
    names = {field: connection.ops.quote_name(field._meta.db_table) for field in (ImportLot, Lot, Place)}
    rows = (
        f"FROM {names[ImportLot]} w JOIN {names[Place]} p ON p.organisation_id = %s AND p.name = w.place"
        " WHERE w.draft_id = %s ORDER BY w.row"
    )
    same = {name: f"w.{name}" for name in ("reference", "length", "offcut", "unit_cost", "received_on")}
    keys = {name: f"w.{name}" for name in ("material_id", "supplier_id", "owner_id")}
    count = _insert(
        Lot,
        same | keys | {"place_id": "p.id", "on_hand": "w.quantity"},
        {"organisation_id": organisation.pk},
        rows,
        [organisation.pk, draft.pk],
    )
    moved = _insert(
        Movement,
        {"lot_id": "l.id", "quantity": "w.quantity", "amount": _amount(organisation.currency)},
        {"kind": Movement.Kind.RECEIVE, "by_id": user.pk, "at": timezone.now()},
        f"FROM {names[ImportLot]} w JOIN {names[Lot]} l ON l.organisation_id = %s AND l.reference = w.reference"
        " WHERE w.draft_id = %s ORDER BY w.row",
        [organisation.pk, draft.pk],
    )
    if not count == moved == draft.rows:
        raise ImportStale(f"A place has changed since the preview. {AGAIN}")
    return count


def _amount(currency: str) -> str:
    """In SQL, what the pieces of a row cost by the cost of one: half up to whole coins, in thousandths.

    In whole steps of a ten-thousandth, in which costs are typed, since SQLite has no exact decimals.
    """
    coin, thousandths = 10 ** (4 - places(currency)), 10 ** (3 - places(currency))
    steps = "w.quantity * CAST(round(w.unit_cost * 10000) AS bigint)"
    return f"(({steps} + {coin // 2}) / {coin}) * {thousandths}"


def _insert(
    model: type[models.Model], taken: Mapping[str, str], given: Mapping[str, Any], rows: str, params: list[Any]
) -> int:
    """Rows of ``model`` out of rows of the database. ``taken``: column to what it is there; ``given``: column to one
    value for all; any other column gets the default of its field."""
    columns, values, first = [], [], []
    for field in model._meta.concrete_fields:
        if field.primary_key:
            continue
        columns.append(connection.ops.quote_name(field.column))
        if field.column in taken:
            values.append(taken[field.column])
        else:
            values.append("%s")
            value = given[field.column] if field.column in given else field.get_default()
            first.append(field.get_db_prep_save(value, connection))
    table = connection.ops.quote_name(model._meta.db_table)
    with connection.cursor() as cursor:
        # Names of tables and columns are those of the models.
        cursor.execute(f"INSERT INTO {table} ({', '.join(columns)}) SELECT {', '.join(values)} {rows}", first + params)
        return cursor.rowcount


def _check_rows_referred_to(waiting: models.QuerySet[ImportLot], organisation: Organisation) -> None:
    by_length = {material.pk: material.by_length for material in materials_of(organisation=organisation)}
    suppliers = set(suppliers_of(organisation=organisation).values_list("pk", flat=True))
    sites = set(Site.objects.of(organisation).filter(archived_at=None).values_list("pk", flat=True))
    found = waiting.annotate(measured=models.Case(models.When(length__isnull=True, then=0), default=1))
    for pk, measured, row in found.values_list("material_id", "measured").annotate(first=Min("row")):
        if by_length.get(pk) != bool(measured):
            name = Material.objects.filter(pk=pk).values_list("name", flat=True).first()
            raise _changed(row, name or "the material")
    owners = set(members_of(organisation=organisation).values_list("pk", flat=True))
    for name, there in (("supplier", suppliers), ("site", sites), ("owner", owners)):
        for pk, row in waiting.exclude(**{name: None}).values_list(f"{name}_id").annotate(first=Min("row")):
            if pk not in there:
                raise _changed(row, f"the {name}")


def _make_places(waiting: models.QuerySet[ImportLot], organisation: Organisation) -> None:
    """Places that are not there yet; one that came since under another spelling is that place."""
    there = {place.name.casefold(): place.name for place in places_of(organisation=organisation)}
    new: dict[str, Place] = {}
    for name, site in waiting.values_list("place").annotate(at=models.Max("site_id")):
        if (known := there.get(name.casefold())) is None:
            new[name.casefold()] = Place(organisation=organisation, name=name, site_id=site)
        elif known != name:
            waiting.filter(place=name).update(place=known)
    Place.objects.bulk_create(new.values())
