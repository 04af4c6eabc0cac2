"""What is left when every house of a season stands, as a workbook."""

from __future__ import annotations

from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.naming import lot_name
from farmbuild.workbooks.words import (
    COUNT,
    LENGTH,
    LENGTH_TEXT,
    length_number,
    length_text,
    money_format,
    money_look,
    small_unit,
)
from farmbuild.workbooks.writing import NOTE, TITLE, WRAPPED, Book, Column, Formula, Look

_SOURCES = {"bought": "bought with these orders", "cut": "cut from a stick"}
TOTAL_LABEL = Look(total=True)


def leftovers_workbook(*, season: Season, plan: SeasonPlan) -> bytes:
    """The bytes of an .xlsx file with one sheet; lengths in the buyer's unit, values in its currency."""
    units, currency = season.buyer.units, season.buyer.currency
    names = {material.code: material.name for material in season.materials}
    sites = {site.code: site.name for site in season.sites}
    book = Book(title="Leftovers", author=season.buyer.name, stamp=season.as_of, units=units)
    columns = [
        Column("Material", 34, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {small_unit(units)}", 11, LENGTH),
        Column("Quantity", 10, COUNT),
        Column("Offcut", 8),
        Column("Place", 24, WRAPPED),
        Column("Where it comes from", 26, WRAPPED),
        Column(f"Value, {currency}", 15, money_look(currency)),
    ]
    sheet = book.sheet("Leftovers", columns, freeze=3, landscape=True, foot=f"Leftovers, {season.buyer.name}")
    sheet.row(["Leftovers when every house stands"], TITLE, height=24)
    sheet.row(
        [f"Offcuts of {length_text(season.keep_from, units)} and more are kept; shorter ends are scrap."],
        NOTE,
        height=20,
    )
    sheet.join(1, len(columns))
    sheet.headings()
    for row in plan.leftovers:
        sheet.row(
            [
                names[row.material],
                length_text(row.length, units),
                length_number(row.length, units),
                row.quantity,
                "yes" if row.offcut else None,
                sites.get(row.place, row.place),
                lot_name(row.lot) if row.lot else _SOURCES.get(row.source, row.source),
                row.value,
            ]
        )
    last = sheet.rows
    looks = [TOTAL_LABEL] * 7 + [Look(number=money_format(currency), align="right", total=True)]
    if last > 3:
        stored = plan.leftover_value
        summed = sum(row.value for row in plan.leftovers) == stored
        value = Formula(f"SUM(H4:H{last})", stored) if summed else stored
        sheet.row(["Value of the leftovers", *[None] * 6, value], looks)
    sheet.row(["Value of the scrap", *[None] * 6, plan.scrap_value], looks)
    sheet.finish()
    return book.to_bytes()
