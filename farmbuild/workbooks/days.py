"""Days as text, as people and spreadsheet programs write them, where they can be one day alone.

Read: year first (ISO 8601-1:2019, 2027-05-12; also with points or slashes), day first with points (12.05.2027), and
with the name of the month. Day and month between slashes or hyphens stand in either order: refused unless one of the
two is no month. Names of months are from memory.
"""

from __future__ import annotations

import datetime
import re
import unicodedata

EXAMPLE = "Type the date year first, for example 2027-05-12"
_YEAR_FIRST = re.compile(r"(\d{4})([-/.]) ?(\d{1,2})\2 ?(\d{1,2})\.?", re.ASCII)
_POINTS = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})", re.ASCII)
_EITHER = re.compile(r"(\d{1,2})([-/])(\d{1,2})\2(\d{4})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}([-/.]) ?\d{1,2}\1 ?\d{2}", re.ASCII)
_NAMED = re.compile(r"(\d{1,2})(?:\.|st|nd|rd|th|º|er)?[ -](?:de )?([^\W\d]+)\.?,?[ -](?:de )?(\d{4})")
_NAMED_FIRST = re.compile(r"([^\W\d]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})")
#: By month: English, German, French, Spanish, Portuguese; whole and as they are shortened.
_NAMES = """
jan january januar jän jänner janv janvier ene enero janeiro
feb february februar févr février febrero fev fevereiro
mar march mär mrz märz mars marzo março
apr april avr avril abr abril
may mai mayo maio
jun june juni juin junio junho
jul july juli juil juillet julio julho
aug august août ago agosto
sep sept september septembre septiembre set setembro
oct october okt oktober octobre octubre out outubro
nov november novembre noviembre novembro
dec december dez dezember déc décembre dic diciembre dezembro
"""
_MONTHS = {name: at for at, names in enumerate(_NAMES.split("\n")[1:-1], 1) for name in names.split()}


class DayError(ValueError):
    """A text that is no day, or could be two; the message says what to type."""


def read_day(text: str) -> datetime.date:
    """The day that ``text`` says. Raises DayError."""
    typed = " ".join(unicodedata.normalize("NFC", text).split())
    # Raised digits and the like stand for something else, so only digits in their own right count.
    plain = "".join(str(unicodedata.decimal(char, char)) for char in typed.casefold())
    if match := _YEAR_FIRST.fullmatch(plain):
        return _day(typed, match[1], match[3], match[4])
    if match := _POINTS.fullmatch(plain):
        return _day(typed, match[3], match[2], match[1])
    if match := _EITHER.fullmatch(plain):
        return _one_of_two(typed, match[4], match[1], match[3])
    if match := _NAMED.fullmatch(plain):
        return _named(typed, match[3], match[2], match[1])
    if match := _NAMED_FIRST.fullmatch(plain):
        return _named(typed, match[3], match[1], match[2])
    if _SHORT_YEAR.fullmatch(plain):
        raise DayError(f"{_quote(typed)} has a year of two digits. {EXAMPLE}.")
    raise DayError(f"{_quote(typed)} cannot be read as a date. {EXAMPLE}, or format the cell as a date.")


def _day(typed: str, year: str, month: str, day: str) -> datetime.date:
    try:
        return datetime.date(int(year), int(month), int(day))
    except ValueError:
        raise DayError(f"There is no day {_quote(typed)}. Type a date, for example 2027-05-12.") from None


def _one_of_two(typed: str, year: str, first: str, second: str) -> datetime.date:
    found = set()
    for month, day in ((first, second), (second, first)):
        try:
            found.add(_day(typed, year, month, day))
        except DayError:
            continue
    if not found:
        raise DayError(f"There is no day {_quote(typed)}. Type a date, for example 2027-05-12.")
    if len(found) == 1:
        return found.pop()
    one, other = sorted(found)
    raise DayError(
        f"{_quote(typed)} could mean more than one day. Type the date year first: {one.isoformat()} or "
        f"{other.isoformat()}."
    )


def _named(typed: str, year: str, name: str, day: str) -> datetime.date:
    month = _MONTHS.get(name)
    if month is None:
        raise DayError(f"{_quote(typed)} cannot be read as a date. {EXAMPLE}, or format the cell as a date.")
    return _day(typed, year, str(month), day)


def _quote(text: str) -> str:
    return f"“{text if len(text) <= 40 else text[:39] + '…'}”"
