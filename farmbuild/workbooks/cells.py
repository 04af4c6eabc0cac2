"""One cell of a table as read, and what it can be understood as.

Every ``as_*`` reader raises CellError with a sentence that says what to type instead. None of them guesses: a
formula, an error value, a date where a number belongs or a number with thousands separators is refused.
"""

from __future__ import annotations

import datetime
import math
import re
from decimal import Decimal
from typing import NamedTuple

from farmbuild.measure import POINT, LengthError, Unit, parse_length

#: The largest whole number that any quantity may be; what the database holds is larger.
MAX_QUANTITY = 999_999_999
PLAIN_NUMBER = re.compile(r"[+-]?(\d{1,15}(\.\d{0,12})?|\.\d{1,12})\Z", re.ASCII)
SMALLEST = Decimal("0.000001")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
YES = frozenset({"yes", "y", "true", "x", "1", "✓"})
NO = frozenset({"no", "n", "false", "0", ""})


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
    def blank(self) -> bool:
        return self.text == ""


EMPTY = Cell()


def _plain(value: float) -> str:
    if not math.isfinite(value):
        return str(value)
    text = f"{Decimal(repr(value)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def spaced(number: int) -> str:
    """A whole number with a space between the thousands, which reads the same everywhere."""
    return f"{number:,}".replace(",", " ")


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


def as_text(cell: Cell, *, most: int = 200) -> str:
    """The cell as one text, without spaces around it; "" when empty. ``most`` is the longest text allowed."""
    _refuse_worked(cell)
    if _is_date(cell.value):
        raise CellError(
            f"The spreadsheet has turned this into the date {cell.text}. Format the cell as text and type it again."
        )
    text = cell.text
    if CONTROL.search(text):
        raise CellError("This text holds characters that cannot be printed. Type it again.")
    if len(text) > most:
        raise CellError(f"This text has {len(text)} characters; {most} is the most that fits.")
    return text


def as_number(cell: Cell, *, example: str) -> Decimal:
    """Any plain number, typed as a number or as text."""
    _refuse_worked(cell)
    value, text = cell.value, cell.text
    if text == "":
        raise CellError(f"This cell is empty. Type a number, for example {example}.")
    if isinstance(value, bool):
        raise CellError(f"Type a number, for example {example}, rather than {text}.")
    if _is_date(value):
        raise CellError(
            f"The spreadsheet has turned this into the date {text}. "
            f"Format the cell as a number and type it again, for example {example}."
        )
    if not PLAIN_NUMBER.match(text):
        raise CellError(
            f"{_quote(text)} is not a plain number. Type digits only, with a point before any decimals and "
            f"nothing between the thousands, for example {example}."
        )
    return Decimal(text)


def as_quantity(cell: Cell, *, least: int = 0, most: int = MAX_QUANTITY) -> int:
    """A whole number from ``least`` to ``most``."""
    example = str(max(least, min(12, most)))
    number = as_number(cell, example=example)
    if number != number.to_integral_value():
        raise CellError(f"{_quote(cell.text)} is not a whole number. Type a whole number, for example {example}.")
    if number < least:
        raise CellError(f"{number:f} is too small. Type a whole number of at least {least}.")
    if number > most:
        raise CellError(f"{number:f} is too large. Type a whole number of at most {most:,}.".replace(",", " "))
    return int(number)


def as_money(cell: Cell, *, places: int = 4) -> Decimal:
    """An amount of at least nothing with at most ``places`` decimals, without a currency sign."""
    number = as_number(cell, example="12.50")
    if number < 0:
        raise CellError(f"{number:f} is below zero. Type an amount of zero or more, for example 12.50.")
    if number >= 10**9:
        raise CellError(f"{number:f} is too large. Type an amount below 1 000 000 000.")
    rounded = round(number, places)
    # A spreadsheet works in binary: 12.1 * 3 comes as 36.30000000000001, which nobody typed.
    if rounded != number and not (isinstance(cell.value, float) and abs(rounded - number) < Decimal("1e-9")):
        raise CellError(f"{_quote(cell.text)} has more than {places} decimals. Type at most {places}.")
    return rounded


def as_length(cell: Cell, unit: Unit) -> Decimal:
    """Exact millimetres. A bare number is in ``unit``; text is read as people write lengths."""
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
    try:
        if isinstance(cell.value, float) and math.isfinite(cell.value):
            # Worked in binary, 7 + 3.5 / 12 ft is 2222.5000000000002 mm: round to the places that are kept.
            mm = Decimal(repr(cell.value)) * parse_length("1", unit)
            text = f"{mm.quantize(SMALLEST):f} mm" if abs(mm) < 10**12 else text
            # A number of a cell has no decimal sign of anybody.
            return parse_length(text, unit, style=POINT)
        return parse_length(text, unit)
    except LengthError as error:
        raise CellError(str(error)) from error


def _length_example(unit: Unit) -> str:
    imperial = unit in (Unit.FOOT, Unit.INCH)
    return "for example 7' 3 1/2\"" if imperial else "for example 2.38 m or 2380 mm"


def as_date(cell: Cell) -> datetime.date:
    """A real date cell, or text written year first: 2027-05-12. Other text could mean two days: refused."""
    _refuse_worked(cell)
    value, text = cell.value, cell.text
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    if text == "":
        raise CellError("This cell is empty. Type a date, for example 2027-05-12.")
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            raise CellError(f"There is no day {_quote(text)}. Type a date, for example 2027-05-12.") from None
    if isinstance(value, str):
        raise CellError(
            f"{_quote(text)} is text, and could mean more than one day. "
            "Type the date year first, for example 2027-05-12, or format the cell as a date."
        )
    raise CellError(f"{_quote(text)} is not a date. Type a date, for example 2027-05-12.")


def as_bool(cell: Cell) -> bool:
    """Yes or no; an empty cell means no."""
    _refuse_worked(cell)
    word = cell.text.casefold()
    if word in YES:
        return True
    if word in NO:
        return False
    raise CellError(f"{_quote(cell.text)} is neither yes nor no. Type yes or no.")
