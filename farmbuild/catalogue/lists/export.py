"""The offers of a supplier as a list that the supplier can fill in, and that reads back as what it was."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.catalogue.selectors import materials_in_use, materials_of, offers_of
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks import writing
from farmbuild.workbooks.plain_text import csv_bytes
from farmbuild.workbooks.project_write import exact_length

SHEET = "Prices"
Row = list[writing.Value]
_WIDTHS = (22, 20, 34, 14, 16, 14, 16, 16, 14)


def headings(organisation: Organisation) -> list[str]:
    return [
        "Supplier's item number",
        "Our short name",
        "Description",
        "Length of one",
        "Pieces in a pack",
        "From quantity",
        f"Price of one, {organisation.currency}",
        "Days to deliver",
        "Valid until",
    ]


def rows_of(*, organisation: Organisation, supplier: Supplier, today: date, every: bool) -> Iterator[Row]:
    """A row for each price of the offers that hold. ``every``: materials without an offer too, their price empty."""
    units = UnitSystem(organisation.unit_system)
    offers = [
        offer
        for offer in offers_of(organisation=organisation, supplier=supplier)
        if offer.valid_until is None or offer.valid_until >= today
    ]
    for offer in offers:
        yield from _rows(offer, units)
    if every:
        there = {offer.material_id for offer in offers}
        for material in materials_in_use(materials_of(organisation=organisation)):
            if material.pk not in there:
                yield _empty(material)


def _rows(offer: Offer, units: UnitSystem) -> Iterator[Row]:
    for step in offer.breaks.all():
        yield [
            offer.supplier_code or None,
            offer.material.code,
            offer.listed_as or offer.material.name,
            None if offer.length is None else exact_length(offer.length, units),
            offer.pack,
            step.from_quantity,
            step.unit_price,
            offer.lead_days,
            offer.valid_until,
        ]


def _empty(material: Material) -> Row:
    return [None, material.code, material.name, *[None] * 6]


def xlsx(*, organisation: Organisation, supplier: Supplier, today: date, every: bool) -> bytes:
    units = UnitSystem(organisation.unit_system)
    book = writing.Book(
        title=f"Prices of {supplier.name} for {organisation.name}", author=organisation.name, stamp=today, units=units
    )
    text = writing.Look(number="@", line=True)
    looks = [text, text, text, text, *[writing.Look(number="0", line=True)] * 2]
    looks += [writing.Look(number="0.00##", line=True), writing.Look(number="0", line=True)]
    looks.append(writing.Look(number=writing.DATE, line=True))
    columns = [
        writing.Column(heading, width, look)
        for heading, width, look in zip(headings(organisation), _WIDTHS, looks, strict=True)
    ]
    sheet = book.sheet(SHEET, columns, freeze=1, landscape=True)
    sheet.headings()
    for row in rows_of(organisation=organisation, supplier=supplier, today=today, every=every):
        sheet.row(row)
    sheet.finish()
    return book.to_bytes()


def csv_text(*, organisation: Organisation, supplier: Supplier, today: date, every: bool) -> bytes:
    """Read back, the sign before what could be a formula goes again (``workbooks/reading.py``)."""
    rows = rows_of(organisation=organisation, supplier=supplier, today=today, every=every)
    plain = ([cell.normalize() if isinstance(cell, Decimal) else cell for cell in row] for row in rows)
    return csv_bytes([headings(organisation), *plain])
