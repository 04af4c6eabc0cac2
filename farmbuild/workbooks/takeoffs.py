"""The take-off of a season as a workbook: row by row with the working, and summed by material."""

from __future__ import annotations

from farmbuild.planning.house.takeoff import totals_by_material
from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.workbooks.words import (
    COUNT,
    LENGTH,
    LENGTH_TEXT,
    length_number,
    length_text,
    material_size,
    small_unit,
)
from farmbuild.workbooks.writing import NOTE, PLAIN, TITLE, WRAPPED, Book, Column, Formula, Look

TOTAL = Look(number="#,##0", align="right", total=True)
TOTAL_LABEL = Look(total=True)


def takeoff_workbook(*, season: Season, plan: SeasonPlan) -> bytes:
    """The bytes of an .xlsx file with the sheets By house and By material; lengths in the buyer's unit."""
    book = Book(title="Take-off", author=season.buyer.name, stamp=season.as_of, units=season.buyer.units)
    _by_house(book, season, plan)
    _by_material(book, season, plan)
    return book.to_bytes()


def _by_house(book: Book, season: Season, plan: SeasonPlan) -> None:
    units = season.buyer.units
    names = {material.code: material.name for material in season.materials}
    houses = {house.ref: house for house in season.houses}
    sites = {site.code: site.name for site in season.sites}
    columns = [
        Column("House", 22),
        Column("Site", 18),
        Column("For", 28, WRAPPED),
        Column("Material", 32, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {small_unit(units)}", 11, LENGTH),
        Column("Quantity", 10, COUNT),
        Column("Unit", 9),
        Column("Whole sticks", 8),
        Column("How worked out", 70, WRAPPED),
    ]
    sheet = book.sheet("By house", columns, freeze=3, landscape=True, foot=f"Take-off, {season.buyer.name}")
    sheet.row([f"Take-off of {len(season.houses)} houses"], TITLE, height=24)
    sheet.row(
        ["Quantities are what the houses take, before what is in the yard. Whole sticks keep their swage."],
        NOTE,
        height=20,
    )
    sheet.join(1, len(columns))
    sheet.headings()
    for row in plan.takeoff:
        house = houses[row.house]
        sheet.row(
            [
                house.name,
                sites.get(house.site, house.site),
                row.purpose,
                names[row.material],
                length_text(row.length, units),
                length_number(row.length, units),
                row.quantity,
                row.unit,
                "yes" if row.whole and row.length is not None else None,
                row.working,
            ]
        )
    sheet.finish()


def _by_material(book: Book, season: Season, plan: SeasonPlan) -> None:
    units = season.buyer.units
    materials = {material.code: material for material in season.materials}
    unit = small_unit(units)
    columns = [
        Column("Material", 34, WRAPPED),
        Column("Size", 26, WRAPPED),
        Column("Whole sticks", 8),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {unit}", 11, LENGTH),
        Column("Quantity", 10, COUNT),
        Column("Unit", 9, PLAIN),
        Column(f"Total length, {unit}", 16, LENGTH),
    ]
    sheet = book.sheet("By material", columns, freeze=2, landscape=True, foot=f"Take-off, {season.buyer.name}")
    sheet.row(["Take-off by material"], TITLE, height=24)
    sheet.headings()
    for total in totals_by_material(plan.takeoff):
        material = materials[total.material]
        length = length_number(total.length, units)
        at = sheet.rows + 1
        sheet.row(
            [
                material.name,
                material_size(material, units),
                "yes" if total.whole and total.length is not None else None,
                length_text(total.length, units),
                length,
                total.quantity,
                total.unit,
                None if length is None else Formula(f"E{at}*F{at}", length * total.quantity),
            ]
        )
    last = sheet.rows
    if last > 2:
        sheet.row(
            [
                "Pieces in all",
                *[None] * 4,
                Formula(f"SUM(F3:F{last})", sum(r.quantity for r in plan.takeoff)),
            ],
            [TOTAL_LABEL] * 5 + [TOTAL],
        )
    sheet.finish()
