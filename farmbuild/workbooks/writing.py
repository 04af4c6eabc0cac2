"""Workbooks out: plain values and a look for each cell in, the same bytes every time for the same content.

Text stays text. A cell is a formula only where the code says ``Formula``: what people typed is stored as
an inline string, and where it starts with = + - @, a tab or a line end it also carries the quote prefix,
so that it does not turn into a formula either when someone edits the cell (ECMA-376 part 1, 18.8.45,
quotePrefix).

openpyxl makes the package: styles, views, page set-up, drop-downs. The rows themselves are put into the sheet
here as text, which keeps a styled sheet with the results of its formulas as quick to write as a bare one.
"""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import NamedTuple
from xml.sax.saxutils import escape

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import to_excel
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter

from farmbuild.measure import UnitSystem

INK, GREY, HEADING = "FF1B242B", "FF55626C", "FFDDE4EA"
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
LONGEST_TEXT = 32_767
LINE_HEIGHT = 15.0
#: Spreadsheets draw no row higher than 409 points.
MAX_LINES = 27
#: ``_x0041_`` in a cell is read as the letter A (ECMA-376 part 1, 22.9.2.19), so a literal one is escaped.
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
#: What XML 1.0 cannot hold (its production 2, Char).
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NO_ROWS = re.compile(rb"<sheetData ?/>|<sheetData></sheetData>")
_FONT = "Calibri"

DATE = "d mmm yyyy"


class Formula(NamedTuple):
    """A live formula, without the leading =, and the value that it has now, for readers that do not
    calculate.
    """

    text: str
    value: Decimal | int | float


Value = str | int | float | Decimal | bool | date | Formula | None


@dataclass(frozen=True)
class Look:
    """How a cell is shown. ``number`` is a number format of ECMA-376 part 1, 18.8.31."""

    number: str = "General"
    align: str | None = None
    bold: bool = False
    size: int = 11
    grey: bool = False
    wrap: bool = False
    indent: int = 0
    fill: bool = False
    line: bool = False
    total: bool = False


PLAIN = Look(line=True, indent=1)
WRAPPED = Look(line=True, wrap=True, indent=1)
TEXT = Look(number="@", line=True, wrap=True, indent=1)
HEAD = Look(bold=True, fill=True, wrap=True, indent=1)
HEAD_RIGHT = Look(bold=True, fill=True, wrap=True, align="right")
TITLE = Look(bold=True, size=16)
LABEL = Look(grey=True)
NOTE = Look(grey=True, wrap=True)


class Column(NamedTuple):
    """``width`` is in characters of the default font."""

    heading: str
    width: float
    look: Look = PLAIN


class Book:
    """A workbook being written, sheet by sheet and row by row.

    ``stamp`` stands in for the day of writing, so that the same content gives the same bytes.
    """

    def __init__(self, *, title: str, author: str, stamp: date, units: UnitSystem) -> None:
        self.workbook = Workbook(write_only=True)
        self.units = units
        self._rows: list[list[str]] = []
        properties = self.workbook.properties
        properties.title, properties.creator = _clean(title)[:200], _clean(author)[:200]
        properties.created = properties.modified = datetime.combine(stamp, time())
        properties.lastModifiedBy = properties.creator

    def sheet(
        self,
        title: str,
        columns: Sequence[Column],
        *,
        freeze: int,
        freeze_columns: int = 0,
        landscape: bool = False,
        foot: str = "",
    ) -> Sheet:
        """Start a sheet whose first ``freeze`` rows stay in view; the last of them is on every page."""
        self._rows.append([])
        sheet = Sheet(self, title, columns, landscape, foot, self._rows[-1])
        sheet.freeze(freeze, freeze_columns)
        return sheet

    def to_bytes(self) -> bytes:
        out = io.BytesIO()
        with _SteadyZip(out, self._rows) as archive:
            ExcelWriter(self.workbook, archive).write_data()
        return out.getvalue()


class Sheet:
    """One sheet being written; rows are numbered from 1 and ``rows`` says how many there are."""

    def __init__(
        self,
        book: Book,
        title: str,
        columns: Sequence[Column],
        landscape: bool,
        foot: str,
        out: list[str],
    ) -> None:
        self.columns = columns
        self.rows = 0
        self._out = out
        self._ws = ws = book.workbook.create_sheet(title)
        self._styles: dict[tuple[Look, bool], int] = {}
        self._letters = [get_column_letter(at) for at in range(1, len(columns) + 1)]
        for at, column in enumerate(columns, 1):
            ws.column_dimensions[get_column_letter(at)].width = column.width
        ws.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        setup = ws.page_setup
        setup.orientation = "landscape" if landscape else "portrait"
        setup.paperSize = Worksheet.PAPERSIZE_LETTER if book.units == UnitSystem.IMPERIAL else Worksheet.PAPERSIZE_A4
        setup.fitToWidth, setup.fitToHeight = 1, 0
        margins = ws.page_margins
        margins.left = margins.right = 0.5
        margins.top = margins.bottom = 0.7
        footer = ws.HeaderFooter.oddFooter
        footer.left.text = _clean(foot).replace("&", "&&")[:120]
        footer.right.text = "Page &P of &N"

    def freeze(self, rows: int, columns: int = 0) -> None:
        """Keep the first rows and columns in view, and print the last of those rows on every page."""
        self._ws.freeze_panes = f"{get_column_letter(columns + 1)}{rows + 1}"
        self._ws.print_title_rows = f"{rows}:{rows}"

    def row(
        self,
        values: Sequence[Value],
        looks: Sequence[Look] | Look | None = None,
        *,
        height: float | None = None,
    ) -> int:
        """Write one row and return its number. Without ``looks`` each cell looks as its column does."""
        self.rows += 1
        if looks is None:
            looks = [column.look for column in self.columns]
        elif isinstance(looks, Look):
            looks = [looks] * len(self.columns)
        number = str(self.rows)
        cells = [
            self._cell(letter + number, value, look)
            for letter, value, look in zip(self._letters, values, looks, strict=False)
        ]
        if height is None:
            lines = self._lines(values, looks)
            tall = f' ht="{LINE_HEIGHT * lines:g}"' if lines > 1 else ""
        else:
            tall = f' ht="{height:g}" customHeight="1"'
        self._out.append(f'<row r="{number}"{tall}>{"".join(cells)}</row>')
        return self.rows

    def headings(self) -> int:
        """Write the row of column headings; figures have theirs on the right."""
        looks = [HEAD_RIGHT if column.look.align == "right" else HEAD for column in self.columns]
        return self.row([column.heading for column in self.columns], looks, height=31)

    def blank(self) -> int:
        return self.row(())

    def join(self, first: int, last: int) -> None:
        """Make one cell of columns ``first`` to ``last`` (from 1) in the row just written."""
        self._ws.merged_cells.add(f"{get_column_letter(first)}{self.rows}:{get_column_letter(last)}{self.rows}")

    def finish(self) -> None:
        """Print everything that was written."""
        self._ws.print_area = f"A1:{get_column_letter(len(self.columns))}{max(self.rows, 1)}"

    def choose(self, column: int, first: int, last: int, source: str, *, title: str, text: str) -> None:
        """Offer a drop-down in a column; ``source`` is a quoted list or a range of cells."""
        self._validate(
            column,
            first,
            last,
            title,
            text,
            type="list",
            formula1=source,
            showErrorMessage=False,
            allow_blank=True,
        )

    def prompt(self, column: int, first: int, last: int, *, title: str, text: str) -> None:
        """Show a note when a cell of the column is entered."""
        self._validate(column, first, last, title, text)

    def _validate(self, column: int, first: int, last: int, title: str, text: str, **rule: object) -> None:
        letter = get_column_letter(column)
        # ECMA-376 part 1, 18.3.1.32: a prompt has at most 32 and 255 characters.
        self._ws.data_validations.append(
            DataValidation(
                sqref=f"{letter}{first}:{letter}{last}",
                showInputMessage=True,
                promptTitle=title[:32],
                prompt=text[:255],
                **rule,
            )
        )

    def _lines(self, values: Sequence[Value], looks: Sequence[Look]) -> int:
        """Lines of the tallest wrapped text, near enough: not every program works out the height of a row."""
        most = 1
        for column, value, look in zip(self.columns, values, looks, strict=False):
            if look.wrap and isinstance(value, str) and (len(value) > column.width - 2 or "\n" in value):
                most = max(most, lines_of(value, column.width))
        return min(most, MAX_LINES)

    def _cell(self, place: str, value: Value, look: Look) -> str:
        """One ``c`` element (ECMA-376 part 1, 18.3.1.4)."""
        if isinstance(value, str) and value:
            risky = value.startswith(RISKY)
            text = escape(_clean(value))
            kept = ' xml:space="preserve"' if text != text.strip() or "\n" in text else ""
            style = self._style(look, risky)
            return f'<c r="{place}" s="{style}" t="inlineStr"><is><t{kept}>{text}</t></is></c>'
        if isinstance(value, date) and look.number == "General":
            look = replace(look, number=DATE)
        start = f'<c r="{place}" s="{self._style(look, False)}"'
        if value is None or value == "":
            return f"{start}/>"
        if isinstance(value, Formula):
            return f"{start}><f>{escape(value.text)}</f><v>{_number(value.value)}</v></c>"
        if isinstance(value, bool):
            return f'{start} t="b"><v>{value:d}</v></c>'
        if isinstance(value, date):
            return f"{start}><v>{_serial(value)}</v></c>"
        return f"{start}><v>{_number(value)}</v></c>"

    def _style(self, look: Look, risky: bool) -> int:
        """Number of the cell format of a look in the workbook."""
        known = self._styles.get((look, risky))
        if known is None:
            known = self._styles[look, risky] = _make_cell(self._ws, look, risky).style_id
        return known


def lines_of(text: str, width: float) -> int:
    """Lines that a text takes in a cell so many characters wide, near enough."""
    room = max(4.0, width - 2)
    return sum(max(1, math.ceil(len(part) / room)) for part in text.split("\n"))


@cache
def _serial(day: date) -> str:
    """Days as a sheet counts them (ECMA-376 part 1, 18.17.4.1, the 1900 date base)."""
    return f"{to_excel(day):g}" if isinstance(day, datetime) else str(int(to_excel(day)))


def _make_cell(ws: object, look: Look, risky: bool) -> WriteOnlyCell:
    cell = WriteOnlyCell(ws)
    cell.font = Font(name=_FONT, size=look.size, bold=look.bold or look.total, color=GREY if look.grey else INK)
    cell.number_format = look.number
    cell.alignment = Alignment(
        horizontal=look.align or ("left" if look.indent else None),
        vertical="top",
        wrap_text=look.wrap or None,
        indent=look.indent,
    )
    if look.fill:
        cell.fill = PatternFill("solid", fgColor=HEADING)
    if look.line or look.total or look.fill:
        thin, hair = Side("thin", color=INK), Side("hair", color=GREY)
        cell.border = Border(top=thin if look.total else None, bottom=thin if look.fill else hair)
    cell.quotePrefix = risky
    return cell


def _clean(text: str) -> str:
    """Text that XML can carry and that reads back the same; what cannot be printed becomes a space."""
    if not text.isprintable():
        text = _NOT_XML.sub(" ", text).replace("\r\n", "\n")
    text = text[:LONGEST_TEXT]
    if "_x" in text:
        text = _LOOKS_ESCAPED.sub("_x005F_", text)
    return text.replace("\r", "_x000D_") if "\r" in text else text


def _number(value: Decimal | int | float) -> str:
    if isinstance(value, int):
        return str(value)
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot stand in a cell")
    return f"{value.normalize():f}" if isinstance(value, Decimal) else repr(value)


class _SteadyZip(zipfile.ZipFile):
    """A zip archive whose bytes depend on the content alone. ``rows`` are put into the sheets, in their order."""

    def __init__(self, out: io.BytesIO, rows: list[list[str]]) -> None:
        super().__init__(out, "w", zipfile.ZIP_DEFLATED)
        self._rows = {f"xl/worksheets/sheet{at}.xml": sheet for at, sheet in enumerate(rows, 1)}

    def write(self, filename: str, arcname: str) -> None:
        self.writestr(arcname, Path(filename).read_bytes())

    def writestr(self, name: str, data: bytes | str) -> None:
        content = data.encode() if isinstance(data, str) else data
        if name in self._rows:
            before, after = _NO_ROWS.split(content)
            rows = "".join(self._rows[name]).encode()
            content = b"".join([before, b"<sheetData>", rows, b"</sheetData>", after])
        info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
        info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 0
        super().writestr(info, content)
