"""One cell of a table as read, and what it can be understood as.

Every ``as_*`` reader raises CellError with a sentence that says what to type instead. None of them guesses: a
formula, an error value, a date where a number belongs and a text that could be two numbers or two days are refused.
A number typed as text is read by the number style in force, a number cell is that number.
"""

from __future__ import annotations

import datetime
import math
import re
import unicodedata
from contextlib import suppress
from decimal import Decimal
from typing import NamedTuple

from farmbuild.measure import (
    POINT,
    LengthError,
    MoneyError,
    NumberError,
    Unit,
    bare_unit,
    format_count,
    one_line,
    parse_length,
    parse_money,
    read_decimal,
    read_whole,
    typed_as,
)
from farmbuild.workbooks.days import DayError, read_day

#: The largest whole number that any quantity may be; what the database holds is larger.
MAX_QUANTITY = 999_999_999
#: No number of ours is as large.
_TOO_LARGE = Decimal(10) ** 15
_AMOUNT = Decimal("12.50")
SMALLEST = Decimal("0.000001")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
#: In the languages most often met: what people type, and what spreadsheet programs write for true and false.
_YES = "yes y true x 1 ✓ ja j wahr oui vrai sí si verdadero sim verdadeiro"
_NO = "no n false 0 nein falsch non faux falso não nao"
YES, NO = frozenset(_YES.split()), frozenset(_NO.split()) | {""}


class CellError(ValueError):
    """One cell cannot be understood; the text is a sentence for the person who filled it in."""


class Cell(NamedTuple):
    """``value`` is None, str, bool, int, float or a datetime type; for a formula it is the formula's text."""

    value: object = None
    formula: bool = False
    error: bool = False

    @property
    def text(self) -> str:
        """What the cell shows, near enough to quote it back; "" when empty."""
        value = self.value
        if value is None:
            return ""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float):
            return _plain(value)
        if isinstance(value, datetime.datetime) and value.time() == datetime.time():
            return value.date().isoformat()
        return str(value).strip()

    @property
    def shown(self) -> str:
        """As ``text``, a number with the decimal sign of the style in force: to be quoted."""
        number = self.number
        return self.text if number is None else typed_as(number)

    @property
    def number(self) -> Decimal | None:
        """The value of a cell that holds a number, and not digits as text."""
        value = self.value
        if isinstance(value, float):
            return Decimal(_plain(value)) if math.isfinite(value) else None
        return Decimal(value) if isinstance(value, int) and not isinstance(value, bool) else None

    @property
    def blank(self) -> bool:
        return self.text == ""


EMPTY = Cell()


def _plain(value: float) -> str:
    if not math.isfinite(value):
        return str(value)
    text = f"{Decimal(repr(value)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _quote(text: str) -> str:
    short = text if len(text) <= 40 else text[:39] + "…"
    return f"“{short}”"


def _refuse_worked(cell: Cell) -> None:
    if cell.formula:
        raise CellError(f"This cell holds the formula {_quote(cell.text)}. Type the value itself.")
    if cell.error:
        raise CellError(f"This cell shows the error {cell.text}. Type the value itself.")


def _is_date(value: object) -> bool:
    return isinstance(value, (datetime.date, datetime.time, datetime.timedelta))


def as_text(cell: Cell, *, most: int = 200, lines: bool = False) -> str:
    """The cell as one text, without spaces around it; "" when empty. ``most`` is the longest text allowed.

    ``lines``: it may run over several lines; else they become one.
    """
    _refuse_worked(cell)
    if _is_date(cell.value):
        raise CellError(
            f"The spreadsheet has turned this into the date {cell.text}. Format the cell as text and type it again."
        )
    text = cell.text
    if CONTROL.search(text):
        raise CellError("This text holds characters that cannot be printed. Type it again.")
    if not lines:
        text = one_line(text).strip()
    if len(text) > most:
        raise CellError(f"This text has {len(text)} characters; {most} is the most that fits.")
    return text


def _refuse_other_kinds(cell: Cell, what: str, example: str) -> None:
    """``what`` is typed; the cell is empty, yes or no, or a date."""
    _refuse_worked(cell)
    text = cell.text
    if text == "":
        raise CellError(f"This cell is empty. Type {what}, for example {example}.")
    if isinstance(cell.value, bool):
        raise CellError(f"Type {what}, for example {example}, rather than {text}.")
    if _is_date(cell.value):
        raise CellError(
            f"The spreadsheet has turned this into the date {text}. "
            f"Format the cell as a number and type it again, for example {example}."
        )


def as_number(cell: Cell, *, example: Decimal) -> Decimal:
    """Any number: a number cell, or text by the style in force."""
    shown = typed_as(example)
    _refuse_other_kinds(cell, "a number", shown)
    number = cell.number
    if number is not None and abs(number) < _TOO_LARGE:
        return number
    try:
        return read_decimal(cell.text)
    except NumberError as error:
        raise CellError(_with_example(error, shown)) from error


def _with_example(error: NumberError, example: str) -> str:
    """Where two readings are said, they are the examples."""
    return str(error) if error.readings else f"{error} Type it like {example}."


def as_quantity(cell: Cell, *, least: int = 0, most: int = MAX_QUANTITY) -> int:
    """A whole number from ``least`` to ``most``."""
    example = str(max(least, min(12, most)))
    _refuse_other_kinds(cell, "a whole number", example)
    number = cell.number
    if number is None or abs(number) >= _TOO_LARGE:
        try:
            number = Decimal(read_whole(cell.text))
        except NumberError as error:
            raise CellError(_with_example(error, example)) from error
    if number != number.to_integral_value():
        raise CellError(f"{_quote(cell.shown)} is not a whole number. Type a whole number, for example {example}.")
    if number < least:
        raise CellError(f"{number:f} is too small. Type a whole number of at least {least}.")
    if number > most:
        raise CellError(f"{number:f} is too large. Type a whole number of at most {format_count(most)}.")
    return int(number)


def as_money(cell: Cell, *, places: int = 4, currency: str = "") -> Decimal:
    """An amount of at least nothing with at most ``places`` decimals; text may have the sign of ``currency``."""
    if currency and isinstance(cell.value, str) and not (cell.formula or cell.error or cell.blank):
        try:
            number = parse_money(cell.text, currency, most_places=places)
        except MoneyError as error:
            raise CellError(str(error)) from error
    else:
        number = as_number(cell, example=_AMOUNT)
    if number < 0:
        raise CellError(
            f"{typed_as(number)} is below zero. Type an amount of zero or more, for example {typed_as(_AMOUNT)}."
        )
    if number >= 10**9:
        raise CellError(f"{typed_as(number)} is too large. Type an amount below {format_count(10**9)}.")
    rounded = round(number, places)
    # A spreadsheet works in binary: 12.1 * 3 comes as 36.30000000000001, which nobody typed.
    if rounded != number and not (isinstance(cell.value, float) and abs(rounded - number) < Decimal("1e-9")):
        raise CellError(f"{_quote(cell.shown)} has more than {places} decimals. Type at most {places}.")
    return rounded


def as_length(cell: Cell, unit: Unit, *, told: bool = False) -> Decimal:
    """Exact millimetres; text is read as people write lengths.

    A bare number is in ``unit``, by the rule of ``bare_unit`` but where a heading has ``told`` which.
    """
    _refuse_worked(cell)
    text = cell.text
    if text == "":
        raise CellError(f"This cell is empty. Type a length, {_length_example(unit)}.")
    if isinstance(cell.value, bool):
        raise CellError(f"Type a length, {_length_example(unit)}, rather than {text}.")
    if _is_date(cell.value):
        raise CellError(
            f"The spreadsheet has turned this into the date {text}. Format the cell as text and type the "
            f"length again with its unit, {_length_example(unit)}."
        )
    number = cell.number
    if told and number is None:
        with suppress(NumberError):
            number = read_decimal(text)
    try:
        if number is None or abs(number) >= _TOO_LARGE:
            return parse_length(text, unit)
        # Worked in binary, 7 + 3.5 / 12 ft is 2222.5000000000002 mm: round to the places that are kept.
        mm = number * parse_length("1", unit if told else bare_unit(number, unit))
        # A number of a cell has no decimal sign of anybody.
        return parse_length(f"{mm.quantize(SMALLEST):f} mm", unit, style=POINT)
    except LengthError as error:
        raise CellError(str(error)) from error


def _length_example(unit: Unit) -> str:
    imperial = unit in (Unit.FOOT, Unit.INCH)
    return "for example 7' 3 1/2\"" if imperial else "for example 2380 mm"


def as_date(cell: Cell) -> datetime.date:
    """A real date cell, or text that can be one day alone."""
    _refuse_worked(cell)
    value, text = cell.value, cell.text
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    if text == "":
        raise CellError("This cell is empty. Type a date, for example 2027-05-12.")
    if not isinstance(value, str):
        raise CellError(f"{_quote(cell.shown)} is not a date. Type a date, for example 2027-05-12.")
    try:
        return read_day(text)
    except DayError as error:
        raise CellError(str(error)) from error


def as_bool(cell: Cell) -> bool:
    """Yes or no; an empty cell means no."""
    _refuse_worked(cell)
    word = unicodedata.normalize("NFC", cell.text).casefold()
    if word in YES:
        return True
    if word in NO:
        return False
    raise CellError(f"{_quote(cell.text)} is neither yes nor no. Type yes or no, or leave it empty for no.")
