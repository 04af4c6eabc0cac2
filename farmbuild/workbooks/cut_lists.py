"""The cut list of a season as a workbook for the saw: stick by stick, with a box to tick for each."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.planning.inputs import Season
from farmbuild.planning.netting.in_house import rows_to_trim
from farmbuild.planning.results import CutLayout, SeasonPlan
from farmbuild.planning.season.marks import marks_of
from farmbuild.planning.season.naming import house_names, lot_name
from farmbuild.planning.work.cautions import ALWAYS, cautions_of
from farmbuild.workbooks.words import (
    COUNT,
    DAY,
    LENGTH,
    LENGTH_TEXT,
    length_number,
    length_text,
    money_look,
    small_unit,
)
from farmbuild.workbooks.writing import NOTE, TITLE, WRAPPED, Book, Column, Formula, Look, Sheet, Value

BOX = "☐"
BOXES_A_LINE = 10
#: Spreadsheets draw no row higher than 409 points, so a long run takes several rows.
STICKS_A_ROW = 100
MARKING = "Measure every mark from the same end: the saw cut is counted in. Take off the burr."
TOTAL = Look(number="#,##0", align="right", total=True)
TOTAL_LABEL = Look(total=True)
STICK_TEXT = Look(bold=True, wrap=True, line=True, indent=1)
STICK_COUNT = Look(number="#,##0", align="right", bold=True, line=True)
STICK_LENGTH = Look(number="#,##0.####", align="right", bold=True, line=True)


def cut_list_workbook(*, season: Season, plan: SeasonPlan) -> bytes:
    """The bytes of an .xlsx file : cuts, ends, whole sticks, what is not to be had, proof."""
    book = Book(title="Cut list", author=season.buyer.name, stamp=season.as_of, units=season.buyer.units)
    names = _Names(season)
    _cuts(book, names, plan)
    _ends(book, names, plan)
    _whole(book, names, plan)
    if plan.unmet:
        _unmet(book, names, plan)
    _proof(book, names, plan)
    return book.to_bytes()


def _caution(sheet: Sheet, columns: int, work: str, more: str = "") -> None:
    said = " ".join(f"Caution: {caution.about}. {caution.words}" for caution in cautions_of(work))
    sheet.row([f"{said} {ALWAYS} {more}".strip()], NOTE, height=32)
    sheet.join(1, columns)


class _Names:
    def __init__(self, season: Season) -> None:
        self.units = season.buyer.units
        self.unit = small_unit(season.buyer.units)
        self.currency = season.buyer.currency
        self.foot = f"Cut list, {season.buyer.name}"
        self.materials = {material.code: material.name for material in season.materials}
        self.houses = house_names(season)

    def house(self, ref: str) -> str:
        return self.houses.get(ref, ref)

    def text(self, length: Decimal | None) -> str | None:
        return length_text(length, self.units)

    def number(self, length: Decimal | None) -> Decimal | None:
        return length_number(length, self.units)


def _cuts(book: Book, names: _Names, plan: SeasonPlan) -> None:
    columns = [
        Column("Stick", 7, COUNT),
        Column("Material", 30, WRAPPED),
        Column("Take from", 26, WRAPPED),
        Column("Stick length", 12, LENGTH_TEXT),
        Column(f"Stick, {names.unit}", 10, LENGTH),
        Column("Sticks", 8, COUNT),
        Column("Piece", 12, LENGTH_TEXT),
        Column(f"Piece, {names.unit}", 10, LENGTH),
        Column("Mark at", 12, LENGTH_TEXT),
        Column("Mark is off by", 14, LENGTH_TEXT),
        Column("For", 42, WRAPPED),
        Column("Needed by", 13, DAY),
        Column("Done", 24, WRAPPED),
    ]
    sheet = book.sheet("Cuts", columns, freeze=3, landscape=True, foot=names.foot)
    sticks = sum(layout.times for layout in plan.layouts)
    sheet.row([f"Cut list: {sticks} sticks"], TITLE, height=24)
    _caution(sheet, len(columns), "saw", MARKING)
    sheet.headings()
    kerfs = {summary.material: summary.kerf for summary in plan.cut_summaries}
    for number, layout in enumerate(plan.layouts, 1):
        for part, times in enumerate(_runs(layout.times)):
            sheet.row(
                _stick(names, number if part == 0 else None, layout, times),
                STICK_LOOKS,
                height=15.0 * max(1, -(-times // BOXES_A_LINE)),
            )
        for row in _pieces(names, layout, kerfs.get(layout.material, Decimal(0))):
            sheet.row(row)
    last = sheet.rows
    if last > 3:
        sheet.row(["Sticks to cut", *[None] * 4, Formula(f"SUM(F4:F{last})", sticks)], [TOTAL_LABEL] * 5 + [TOTAL])
    sheet.finish()


STICK_LOOKS = [
    STICK_COUNT,
    STICK_TEXT,
    STICK_TEXT,
    Look(align="right", bold=True, line=True),
    STICK_LENGTH,
    STICK_COUNT,
    LENGTH_TEXT,
    LENGTH,
    LENGTH_TEXT,
    LENGTH_TEXT,
    WRAPPED,
    DAY,
    WRAPPED,
]


def _runs(times: int) -> Iterator[int]:
    while times > 0:
        yield min(times, STICKS_A_ROW)
        times -= STICKS_A_ROW


def boxes(count: int) -> str:
    """So many boxes to tick, ten a line in two fives."""
    whole, rest = divmod(count, BOXES_A_LINE)
    line = f"{BOX * 5} {BOX * 5}"
    tail = f"{BOX * min(rest, 5)} {BOX * max(0, rest - 5)}".strip()
    return "\n".join([line] * whole + ([tail] if tail else []))


def _stick(names: _Names, number: int | None, layout: CutLayout, times: int) -> list[Value]:
    source = f"{lot_name(layout.lot)}, {layout.place}" if layout.lot else "new stick"
    return [
        number,
        names.materials[layout.material],
        source,
        names.text(layout.stick_length),
        names.number(layout.stick_length),
        times,
        None,
        None,
        None,
        None,
        None,
        layout.need_by,
        boxes(times),
    ]


def _pieces(names: _Names, layout: CutLayout, kerf: Decimal) -> Iterator[list[Value]]:
    """Each piece with the mark of its far end, counted from one end of the stick with every saw cut
    before it.
    """
    for piece, mark in zip(layout.pieces, marks_of(layout, kerf, names.units), strict=True):
        yield [
            *[None] * 6,
            names.text(piece.length),
            names.number(piece.length),
            # The last piece may end with the stick, which takes no cut.
            names.text(mark.shown) if mark else "end of stick",
            mark.off_text if mark else None,
            f"{names.house(piece.house)}: {piece.purpose}",
            None,
            None,
        ]
    if layout.remainder > 0:
        left = [names.text(layout.remainder), names.number(layout.remainder)]
        yield [*[None] * 6, *left, None, None, "offcut", None, None]


def _ends(book: Book, names: _Names, plan: SeasonPlan) -> None:
    """What is sawn off the plain end of the last stick of a joined run."""
    columns = [
        Column("For", 40, WRAPPED),
        Column("Material", 32, WRAPPED),
        Column("Stick length", 12, LENGTH_TEXT),
        Column("Saw off", 12, LENGTH_TEXT),
        Column(f"Saw off, {names.unit}", 11, LENGTH),
        Column("Sticks", 9, COUNT),
        Column("Done", 24, WRAPPED),
    ]
    sheet = book.sheet("Ends to saw off", columns, freeze=3, foot=names.foot)
    sheet.row(["Ends to saw off joined runs, from the plain end"], TITLE, height=24)
    _caution(sheet, len(columns), "saw")
    sheet.headings()
    for row in rows_to_trim(plan):
        for times in _runs(row.trims):
            sheet.row(
                [
                    f"{names.house(row.house)}: {row.purpose}",
                    names.materials[row.material],
                    names.text(row.length),
                    names.text(row.trim),
                    names.number(row.trim),
                    times,
                    boxes(times),
                ],
                height=15.0 * max(1, -(-times // BOXES_A_LINE)),
            )
    sheet.finish()


def _whole(book: Book, names: _Names, plan: SeasonPlan) -> None:
    """What is taken from the yard as it is."""
    columns = [
        Column("Lot", 18),
        Column("Place", 26, WRAPPED),
        Column("Material", 32, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {names.unit}", 11, LENGTH),
        Column("Quantity", 10, COUNT),
        Column("For", 40, WRAPPED),
        Column("Done", 8, WRAPPED),
    ]
    sheet = book.sheet("Whole from the yard", columns, freeze=3, landscape=True, foot=names.foot)
    sheet.row(["To take from the yard whole"], TITLE, height=24)
    _caution(sheet, len(columns), "handling")
    sheet.headings()
    for row in plan.allocations:
        sheet.row(
            [
                row.lot,
                row.place,
                names.materials[row.material],
                names.text(row.length),
                names.number(row.length),
                row.quantity,
                f"{names.house(row.house)}: {row.purpose}",
                BOX,
            ]
        )
    last = sheet.rows
    if last > 3:
        taken = sum(row.quantity for row in plan.allocations)
        sheet.row(["In all", *[None] * 4, Formula(f"SUM(F4:F{last})", taken)], [TOTAL_LABEL] * 5 + [TOTAL])
    sheet.finish()


def _unmet(book: Book, names: _Names, plan: SeasonPlan) -> None:
    columns = [
        Column("Material", 32, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {names.unit}", 11, LENGTH),
        Column("Quantity", 10, COUNT),
        Column("For", 40, WRAPPED),
        Column("Why", 60, WRAPPED),
    ]
    sheet = book.sheet("Cannot be bought", columns, freeze=2, landscape=True, foot=names.foot)
    sheet.row(["What no stick in the yard or on offer can give"], TITLE, height=24)
    sheet.headings()
    for row in plan.unmet:
        sheet.row(
            [
                names.materials[row.material],
                names.text(row.length),
                names.number(row.length),
                row.quantity,
                f"{names.house(row.house)}: {row.purpose}",
                row.reason,
            ]
        )
    sheet.finish()


def _proof(book: Book, names: _Names, plan: SeasonPlan) -> None:
    """The cost of the sticks used, by material, against the least that was proven."""
    money = money_look(names.currency)
    columns = [
        Column("Material", 34, WRAPPED),
        Column("Saw cut", 10, LENGTH_TEXT),
        Column(f"Saw cut, {names.unit}", 10, LENGTH),
        Column(f"Sticks used cost, {names.currency}", 18, money),
        Column(f"Proven least, {names.currency}", 18, money),
        Column(f"Could be saved at most, {names.currency}", 18, money),
        Column("Proven best", 10),
    ]
    sheet = book.sheet("Proof", columns, freeze=2, landscape=True, foot=names.foot)
    sheet.row(["How good each cut plan is, at the prices that it reckons with"], TITLE, height=24)
    sheet.headings()
    for row in plan.cut_summaries:
        at = sheet.rows + 1
        sheet.row(
            [
                names.materials[row.material],
                names.text(row.kerf),
                names.number(row.kerf),
                row.cost,
                row.bound,
                Formula(f"D{at}-E{at}", row.cost - row.bound),
                "yes" if row.optimal else "no",
            ]
        )
    sheet.finish()
