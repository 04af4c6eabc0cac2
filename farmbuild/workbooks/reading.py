"""Tables out of .xlsx and .csv files, whoever made them.

    table = read_table(data, "stock.xlsx", headings={"length": ("Length",)}, required={"length"})
    for row in table.rows:
        as_length(row["length"], Unit.FOOT)

What is wrong with the whole file raises WorkbookError; what is wrong with one cell is for the caller to find
with the ``as_*`` readers, which raise CellError. Both carry a sentence for the person who sent the file.
"""

from __future__ import annotations

import csv
import io
import re
import warnings
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.utils.escape import unescape

from farmbuild.measure import format_count, join_words
from farmbuild.workbooks.cells import (
    EMPTY,
    Cell,
    CellError,
    as_bool,
    as_date,
    as_length,
    as_money,
    as_number,
    as_quantity,
    as_text,
)
from farmbuild.workbooks.headings import OWN_NOTES, Strange, key, nearest, strange
from farmbuild.workbooks.packages import MAX_BYTES, OLE_MAGIC, ZIP_MAGICS, WorkbookError, check_package, damaged

__all__ = [
    "EMPTY",
    "Book",
    "Cell",
    "CellError",
    "Row",
    "Rules",
    "Table",
    "WorkbookError",
    "as_bool",
    "as_date",
    "as_length",
    "as_money",
    "as_number",
    "as_quantity",
    "as_text",
    "read_table",
    "unread",
]

# Drop-downs and the like that openpyxl leaves out of a workbook only being read are nobody's concern.
warnings.filterwarnings("ignore", category=UserWarning, module=r"openpyxl\.")

#: The heading row is looked for in the first rows, below a title and notes.
HEADING_ROWS = 20
MAX_COLUMNS = 256
#: Rows of a sheet (ECMA-376 part 1, 18.3.1.73 as every program limits it); a row numbered beyond is not one.
SHEET_ROWS = 1_048_576

Cells = list[Cell]
#: How a text file says that a cell is no formula, as ours do.
_KEPT_TEXT = ("'=", "'+", "'-", "'@")
#: What parts the cells of a text file.
_NAMES = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True)
class Row:
    """``number`` as the spreadsheet counts it, from 1; ``cells`` has every field, EMPTY where nothing is."""

    number: int
    cells: Mapping[str, Cell]

    def __getitem__(self, field: str) -> Cell:
        return self.cells[field]


@dataclass(frozen=True)
class Table:
    """``columns`` gives the letter of each field that was found, ``heads`` what stands over it.

    ``rows`` leaves out empty rows. ``strange``: columns with something under them whose heading is not known, where
    the reader asked for them; else they are refused.
    """

    sheet: str
    heading_row: int
    columns: Mapping[str, str]
    rows: tuple[Row, ...] = field(repr=False)
    heads: Mapping[str, str] = field(default_factory=dict)
    strange: tuple[Strange, ...] = ()


def read_table(
    data: bytes,
    filename: str,
    *,
    headings: Mapping[str, tuple[str, ...]],
    required: Collection[str],
    sheet: str | None = None,
    max_rows: int = 200_000,
    rules: Rules | None = None,
) -> Table:
    """Read one table with a row of headings.

    ``headings`` names each field's accepted headings, compared by ``headings.key``. Without ``sheet`` the first sheet
    that has all ``required`` fields is taken. Raises WorkbookError.
    """
    book = Book(data, filename)
    return book.table(headings=headings, required=required, sheet=sheet, max_rows=max_rows, rules=rules)


def _nothing(_: object) -> bool:
    return False


@dataclass(frozen=True)
class Rules:
    """How headings that no field has are taken. ``unread`` says by its key which are known and not read; ``skip`` which
    rows are none, as examples; ``collect``: what is strange is handed over in the table, and not refused.
    """

    unread: Callable[[str], bool] = _nothing
    skip: Callable[[Mapping[str, Cell]], bool] = _nothing
    collect: bool = False


def unread(*headings: str) -> Rules:
    """Rules of a table that has these columns too, for people alone."""
    known = frozenset(map(key, headings))
    return Rules(unread=known.__contains__)


class Book:
    """A file with one or more sheets, opened for reading; raises WorkbookError when it is no workbook."""

    def __init__(self, data: bytes, filename: str) -> None:
        self.filename = filename
        if not data.strip(b"\0 \r\n\t"):
            raise WorkbookError(f"{filename} is empty. Send a file with a row of headings and rows under it.")
        if len(data) > MAX_BYTES:
            raise WorkbookError(f"{filename} is larger than {MAX_BYTES // 1024**2} MB. Split it into smaller files.")
        self._text = ""
        self._workbook = None
        if data.startswith((OLE_MAGIC, *ZIP_MAGICS)):
            check_package(data, filename)
            try:
                self._workbook = load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
            except Exception as error:
                # Bad XML fails in openpyxl in as many ways as it has classes; all of them mean the same here.
                raise damaged(filename) from error
            self.sheets = [ws.title for ws in self._workbook.worksheets]
            if not self.sheets:
                raise WorkbookError(f"{filename} has no sheet with rows in it.")
        elif filename.lower().endswith((".xlsx", ".xlsm", ".xls", ".ods")):
            raise WorkbookError(f"{filename} is not a spreadsheet. Send a file saved as .xlsx or .csv.")
        else:
            self._text = _decode(data, filename)
            self.sheets = [""]

    def table(
        self,
        *,
        headings: Mapping[str, tuple[str, ...]],
        required: Collection[str],
        sheet: str | None = None,
        max_rows: int = 200_000,
        rules: Rules | None = None,
    ) -> Table:
        """As ``read_table``."""
        wanted = {key(text): name for name, texts in headings.items() for text in texts}
        problem: _NoHeadings | None = None
        for title in self._candidates(sheet):
            reader = _Reader(
                self.filename, title, headings, wanted, required, max_rows, self._delimiter(wanted), rules or Rules()
            )
            try:
                return reader.read(self._rows(title, wanted))
            except _NoHeadings as error:
                problem = problem or error
            except (WorkbookError, CellError):
                raise
            except Exception as error:
                # As above: whatever openpyxl stumbles over in a sheet means a damaged file.
                raise damaged(self.filename) from error
        raise WorkbookError(str(problem))

    @property
    def text(self) -> str:
        """Of a text file; "" for a workbook."""
        return self._text

    @property
    def shown(self) -> list[str]:
        """Sheets that are not hidden."""
        return [ws.title for ws in self._workbook.worksheets if ws.sheet_state == "visible"]

    def sheet(self, title: str):
        return self._workbook[title]

    def has_sheet(self, sheet: str) -> bool:
        return self._workbook is None or key(sheet) in map(key, self.sheets)

    def above(self, table: Table) -> list[Cells]:
        """Rows over the headings of a table that was read: its title and notes."""
        rows = self._rows(table.sheet, {})
        return [cells for _, cells in islice(rows, table.heading_row - 1)]

    def _candidates(self, sheet: str | None) -> list[str]:
        if sheet is None or self._workbook is None:
            return self.sheets
        for title in self.sheets:
            if key(title) == key(sheet):
                return [title]
        raise WorkbookError(f"{self.filename} has no sheet named “{sheet}”. Its sheets are {_listed(self.sheets)}.")

    def _delimiter(self, wanted: Mapping[str, str]) -> str:
        """What parts the cells of a text file; "" for a workbook."""
        return _delimiter(self._text, wanted) if self._workbook is None else ""

    def _rows(self, title: str, wanted: Mapping[str, str]) -> Iterator[tuple[int, Cells]]:
        if self._workbook is None:
            return _csv_rows(self._text, self.filename, self._delimiter(wanted))
        return _sheet_rows(self._workbook[title])


class _NoHeadings(Exception):
    pass


class _Reader:
    """Finds the heading row of one sheet and reads what stands under it."""

    def __init__(
        self,
        filename: str,
        sheet: str,
        headings: Mapping[str, tuple[str, ...]],
        wanted: Mapping[str, str],
        required: Collection[str],
        max_rows: int,
        delimiter: str,
        rules: Rules,
    ) -> None:
        self.filename, self.sheet, self.headings, self.wanted = filename, sheet, headings, wanted
        self.required, self.max_rows, self.delimiter, self.rules = required, max_rows, delimiter, rules

    @property
    def where(self) -> str:
        return f"The sheet “{self.sheet}” of {self.filename}" if self.sheet else self.filename

    def read(self, rows: Iterator[tuple[int, Cells]]) -> Table:
        start: list[tuple[int, Cells]] = []
        for number, cells in rows:
            if number > HEADING_ROWS:
                break
            start.append((number, cells))
            if self._has_required(cells):
                return self._read_under(number, cells, rows)
        raise _NoHeadings(self._missing(start))

    def _found(self, cells: Cells) -> list[tuple[int, str]]:
        keys = ((at, self.wanted.get(key(cell.text))) for at, cell in enumerate(cells) if not cell.blank)
        return [(at, name) for at, name in keys if name]

    def _has_required(self, cells: Cells) -> bool:
        names = {name for _, name in self._found(cells)}
        return bool(names) and names.issuperset(self.required)

    def _read_under(self, heading_row: int, heads: Cells, rows: Iterable[tuple[int, Cells]]) -> Table:
        columns: dict[str, int] = {}
        for at, name in self._found(heads):
            if name in columns:
                first, second = get_column_letter(columns[name] + 1), get_column_letter(at + 1)
                raise WorkbookError(
                    f"{self.where} has two columns for “{self.headings[name][0]}”, {first} and {second}. Leave one out."
                )
            columns[name] = at
        strays = _Strays(self, heads, columns)
        blank = dict.fromkeys(self.headings, EMPTY)
        read: list[Row] = []
        for number, cells in rows:
            width = len(cells)
            if self.delimiter and width != len(heads):
                self._refuse_other_width(number, cells, len(heads))
            found = {name: cell for name, at in columns.items() if at < width and not (cell := cells[at]).blank}
            if self.rules.skip(found):
                continue
            strays.look(number, cells)
            if not found:
                continue
            if len(read) == self.max_rows:
                raise WorkbookError(
                    f"{self.where} has more than {format_count(self.max_rows)} rows. Split it into smaller files."
                )
            read.append(Row(number, blank | found))
        letters = {name: get_column_letter(at + 1) for name, at in columns.items()}
        over = {name: heads[at].text for name, at in columns.items()}
        strays_found = strays.found()
        if strays_found and not self.rules.collect:
            raise WorkbookError(f"{self.where}: {' '.join(column.sentence for column in strays_found)}")
        return Table(self.sheet, heading_row, letters, tuple(read), over, strays_found)

    def _refuse_other_width(self, number: int, cells: Cells, wanted: int) -> None:
        """Between commas a decimal comma parts a cell in two, so every row has a cell under each heading there.

        Between semicolons and tabs no number is parted: the last cells may be left out, or empty ones added.
        """
        filled = max((at for at, cell in enumerate(cells, 1) if not cell.blank), default=0)
        if not filled or (self.delimiter != "," and filled <= wanted):
            return
        count = "1 cell" if len(cells) == 1 else f"{len(cells)} cells"
        sentence = f"Row {number} of {self.filename} has {count}, where {wanted} have a heading."
        if self.delimiter != ",":
            name = _NAMES[self.delimiter]
            raise WorkbookError(f"{sentence} Put a cell that holds a {name} in quotation marks.")
        raise WorkbookError(
            f"{sentence} Put a comma behind each cell, empty ones too, and a cell that holds a comma in quotation "
            'marks, for example "2,5". Or save it with semicolons between the cells.'
        )

    def _missing(self, start: list[tuple[int, Cells]]) -> str:
        filled = [cells for _, cells in start if any(not cell.blank for cell in cells)]
        if not filled:
            return f"{self.where} has nothing in its first {HEADING_ROWS} rows. Put a row of headings there."
        best = max(filled, key=lambda cells: len(self._found(cells)))
        have = {name for _, name in self._found(best)}
        missing = [texts[0] for name, texts in self.headings.items() if name in set(self.required) - have]
        there = [cell.text[:40] for cell in best if not cell.blank][:20]
        noun = "a column headed" if len(missing) == 1 else "columns headed"
        unknown = [cell.text for cell in best if not cell.blank and key(cell.text) not in self.wanted]
        meant = [(near, name) for name in missing if (near := nearest(name, unknown))]
        hint = "".join(f" “{near[:60]}” is not known: did you mean “{name}”?" for near, name in meant)
        return f"{self.where} needs {noun} {_listed(missing)}. The headings found are {_listed(there)}.{hint}"


class _Strays:
    """Columns of a sheet that no field has: whether anything stands under them."""

    def __init__(self, reader: _Reader, heads: Cells, columns: Mapping[str, int]) -> None:
        self.reader, self.heads, self.columns = reader, heads, columns
        self.first: dict[int, tuple[int, str]] = {}
        taken = set(columns.values())
        self.open = {
            at for at, cell in enumerate(heads) if at not in taken and (cell.blank or not self._left(cell.text))
        }

    def _left(self, heading: str) -> bool:
        """A heading that is like one that is looked for and missing is not left, whatever it may be else."""
        plain = key(heading)
        if plain in map(key, OWN_NOTES):
            return True
        missing = [texts[0] for name, texts in self.reader.headings.items() if name not in self.columns]
        return self.reader.rules.unread(plain) and not nearest(heading, missing)

    def look(self, number: int, cells: Cells) -> None:
        width = len(cells)
        if not self.open and width <= len(self.heads):
            return
        for at in (*self.open, *range(len(self.heads), width)):
            if at < width and at not in self.first and not cells[at].blank:
                self.first[at] = (number, cells[at].shown)
                self.open.discard(at)

    def found(self) -> tuple[Strange, ...]:
        known = [texts[0] for texts in self.reader.headings.values()]
        there = [self.reader.headings[name][0] for name in self.columns]
        return tuple(
            strange(
                get_column_letter(at + 1),
                number,
                self.heads[at].text if at < len(self.heads) else "",
                value,
                known,
                there,
            )
            for at, (number, value) in sorted(self.first.items())
        )


def _listed(names: list[str]) -> str:
    return join_words(f"“{name}”" for name in names)


def _sheet_rows(sheet) -> Iterator[tuple[int, Cells]]:
    # Some programs write a wrong extent, and rows outside it would be lost.
    sheet.reset_dimensions()
    for number, row in enumerate(sheet.iter_rows(max_row=SHEET_ROWS), 1):
        yield number, [EMPTY if cell.value is None else sheet_cell(cell) for cell in row[:MAX_COLUMNS]]


def sheet_cell(read) -> Cell:
    value = read.value
    if read.data_type == "f":
        return Cell(str(getattr(value, "text", None) or value), formula=True)
    if read.data_type == "e":
        return Cell(value, error=True)
    if isinstance(value, str) and "_x" in value:
        value = unescape(value)
    return Cell(value)


#: What else than ASCII a text in the 8-bit code of Western European Windows has in names and sizes. Raised digits and
#: capitals with a caron are the letters of other codes, read wrongly.
_WESTERN = re.compile("[\\t-~\xa0\xa1\xa7\xab\xb0-\xb2\xb4\xb5\xb7\xba-\xbe\xc0-\xffŒœ€‚„…‘’“”•–—™]*")
#: No word of these languages has so many letters with marks in a row; one in another alphabet has.
_ALL_MARKED = re.compile("[\xc0-\xffŒœ]{3}")


def _decode(data: bytes, filename: str) -> str:
    """UTF-8, UTF-16 that begins with its mark, or what is plainly Windows-1252, as older programs export."""
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = "" if encoding == "utf-16" else _western(data)
    if not text or "\0" in text:
        raise WorkbookError(
            f"{filename} is neither a spreadsheet nor a text file that can be read for sure. "
            "Save it as .xlsx, or as .csv with the encoding UTF-8."
        )
    return text


def _western(data: bytes) -> str:
    """ "" where it may be in another code."""
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        return ""
    return text if _WESTERN.fullmatch(text) and not _ALL_MARKED.search(text) else ""


def _csv_rows(text: str, filename: str, delimiter: str) -> Iterator[tuple[int, Cells]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before = 0
    try:
        for row in reader:
            # A quoted cell may run over lines; the row is known by its first.
            yield before + 1, [_csv_cell(text) for text in row]
            before = reader.line_num
    except csv.Error as error:
        raise WorkbookError(
            f"{filename} cannot be read from line {before + 1} on ({error}). Look for a quotation mark too many there."
        ) from error


def _csv_cell(text: str) -> Cell:
    text = text.strip()
    if not text:
        return EMPTY
    if text.startswith(_KEPT_TEXT):
        return Cell(text[1:])
    return Cell(text, formula=len(text) > 1 and text.startswith("="))


def _delimiter(text: str, wanted: Mapping[str, str]) -> str:
    """The one of comma, semicolon and tab that makes the most known headings out of the first lines."""
    lines = text.splitlines()[:HEADING_ROWS]

    def known(delimiter: str) -> tuple[int, int]:
        cells = [part.strip().strip('"') for line in lines for part in line.split(delimiter)]
        return sum(key(cell) in wanted for cell in cells), len(cells)

    return max(_NAMES, key=known)
