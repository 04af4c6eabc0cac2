"""Days as text: read where they can be one day alone, else refused with what to type."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.workbooks.days import DayError, read_day

DAY = date(2027, 5, 3)
DECEMBER = date(2027, 12, 24)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2027-05-03", DAY),
        ("2027-5-3", DAY),
        ("2027/05/03", DAY),
        ("2027. 5. 3.", DAY),
        ("２０２７-05-03", DAY),
        ("03.05.2027", DAY),
        ("3.5.2027", DAY),
        ("3. 5. 2027", DAY),
        ("24/12/2027", DECEMBER),
        ("12/24/2027", DECEMBER),
        ("24-12-2027", DECEMBER),
        ("05/05/2027", date(2027, 5, 5)),
        ("3 May 2027", DAY),
        ("3-May-2027", DAY),
        ("May 3, 2027", DAY),
        ("3rd May 2027", DAY),
        ("3. Mai 2027", DAY),
        ("3 mai 2027", DAY),
        ("3 de mayo de 2027", DAY),
        ("1º de mayo de 2027", date(2027, 5, 1)),
        ("24. Dez. 2027", DECEMBER),
        ("24 déc. 2027", DECEMBER),
        ("24 de\u0301cembre 2027", DECEMBER),
        ("24 dic 2027", DECEMBER),
        ("24 de dezembro de 2027", DECEMBER),
        ("1er mars 2027", date(2027, 3, 1)),
        ("3. März 2027", date(2027, 3, 3)),
    ],
)
def test_what_is_one_day_alone(text: str, day: date) -> None:
    assert read_day(text) == day


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("03/05/2027", "could mean more than one day. Type the date year first: 2027-03-05 or 2027-05-03."),
        ("3-5-2027", "2027-03-05 or 2027-05-03"),
        ("12/05/2027", "2027-05-12 or 2027-12-05"),
        ("13.13.2027", "There is no day “13.13.2027”. Type a date, for example 2027-05-12."),
        ("31/31/2027", "There is no day"),
        ("2027-02-30", "There is no day"),
        ("30 Feb 2027", "There is no day"),
        ("03.05.27", "has a year of two digits. Type the date year first, for example 2027-05-12."),
        ("3/5/27", "year of two digits"),
        ("27-05-03", "year of two digits"),
        ("3 mayor 2027", "cannot be read as a date"),
        ("next week", "cannot be read as a date. Type the date year first, for example 2027-05-12, or format the cell"),
        ("45780", "cannot be read as a date"),
        ("2027-05/03", "cannot be read as a date"),
        ("²027-05-03", "cannot be read as a date"),
        ("x" * 90, "…” cannot be read as a date"),
    ],
)
def test_what_is_refused(text: str, words: str) -> None:
    with pytest.raises(DayError) as refused:
        read_day(text)
    assert words in str(refused.value)


@given(st.dates(date(1980, 1, 1), date(2100, 12, 31)))
def test_every_way_of_writing_gives_that_day_or_names_both(day: date) -> None:
    for text in (f"{day:%Y-%m-%d}", f"{day:%d.%m.%Y}", f"{day:%d %B %Y}", f"{day:%b %d, %Y}"):
        assert read_day(text) == day
    for text in (f"{day:%d/%m/%Y}", f"{day:%m/%d/%Y}"):
        try:
            assert read_day(text) == day
        except DayError as error:
            assert day.isoformat() in str(error)


@given(st.text(max_size=30))
def test_any_text_is_a_day_or_refused(text: str) -> None:
    try:
        assert isinstance(read_day(text), date)
    except DayError as error:
        assert str(error).endswith(".")
