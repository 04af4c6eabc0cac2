"""A quote or a change order as a workbook for the customer: options side by side, and what each of them has in it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from openpyxl.utils import get_column_letter

from farmbuild.measure import UnitSystem, format_decimal, line_tax, places
from farmbuild.planning.pricing.offered import Offered, OfferedOption
from farmbuild.workbooks import writing
from farmbuild.workbooks.words import money_format
from farmbuild.workbooks.writing import (
    LABEL,
    NOTE,
    PLAIN,
    TITLE,
    WRAPPED,
    Book,
    Column,
    Formula,
    Look,
    Sheet,
    Value,
    lines_of,
)

_HEAD = Look(bold=True, fill=True, wrap=True, align="right")
_FIRST_HEAD = Look(bold=True, fill=True, wrap=True)
_DAY = Look(number=writing.DATE, align="left")


def quote_workbook(offered: Offered) -> bytes:
    """The bytes of an .xlsx file. Tax, sums and totals are formulas that give the amounts that were offered."""
    title, units = offered.title, UnitSystem(offered.units)
    book = Book(title=title, author=offered.sender, stamp=offered.day, units=units)
    columns = [Column("", 38, WRAPPED), *(Column(option.name, 18, PLAIN) for option in offered.options)]
    # Words have room beside the labels, also where there is one option.
    columns += [Column("", 18, PLAIN)] * max(0, 3 - len(columns))
    sheet = book.sheet("Quote", columns, freeze=1, landscape=len(columns) > 4, foot=title)
    sheet.row([title], TITLE, height=24)
    for label, words in (("From", offered.sender), ("To", ", ".join(offered.to)), ("For", offered.job)):
        sheet.row([label, words], [LABEL, Look()])
    sheet.row(["Of the day", offered.day], [LABEL, _DAY])
    sheet.row(["Holds until", offered.valid_until], [LABEL, _DAY])
    if offered.note:
        _wide(sheet, offered.note, len(columns))
    _prices(sheet, offered)
    for heading, rows in (
        ("Not in the price", offered.exclusions),
        ("Take care", [f"{about}: {words}" if about else words for about, words in offered.cautions]),
    ):
        if rows:
            sheet.blank()
            sheet.row([heading], [_FIRST_HEAD])
            for words in rows:
                _wide(sheet, words, len(columns))
    sheet.finish()
    for number, option in enumerate(offered.options, 1):
        _included(book, option, number, title)
    return book.to_bytes()


def _wide(sheet: Sheet, words: str, columns: int) -> None:
    width = 38 + 18 * (columns - 1)
    sheet.row([words], NOTE, height=writing.LINE_HEIGHT * lines_of(words, width))
    sheet.join(1, columns)


def _prices(sheet: Sheet, offered: Offered) -> None:
    options, currency = offered.options, offered.currency
    money = Look(number=money_format(currency), align="right", line=True)
    total = Look(number=money_format(currency), align="right", total=True)
    letters = [get_column_letter(at) for at in range(2, len(options) + 2)]
    parts = range(len(options[0].parts))
    sheet.blank()
    sheet.row([currency, *(option.name for option in options)], [_FIRST_HEAD, *[_HEAD] * len(options)])

    def add(label: str, values: Sequence[Value], look: Look = money) -> int:
        return sheet.row([label, *values], [replace_total(look), *[look] * len(options)])

    def replace_total(look: Look) -> Look:
        return Look(total=look.total, line=True, wrap=True)

    first = sheet.rows + 1
    for at in parts:
        add(options[0].parts[at].name, [option.parts[at].price for option in options])
    last = sheet.rows
    before = add(
        "Before tax",
        [
            Formula(f"SUM({letter}{first}:{letter}{last})", one.before_tax)
            for letter, one in zip(letters, options, strict=True)
        ],
        total,
    )
    tax_first = sheet.rows + 1
    for at in parts:
        part = options[0].parts[at]
        percent = format_decimal(part.percent.normalize() + 0)
        add(
            f"Tax on {part.name[0].lower()}{part.name[1:]}, {percent} %",
            [
                _live(
                    f"ROUND({letter}{first + at}*{one.parts[at].percent}/100,{places(currency)})",
                    line_tax(one.parts[at].price, one.parts[at].percent, currency),
                    one.parts[at].tax,
                )
                for letter, one in zip(letters, options, strict=True)
            ],
        )
    tax_last = sheet.rows
    tax = add(
        "Tax",
        [
            Formula(f"SUM({letter}{tax_first}:{letter}{tax_last})", one.tax)
            for letter, one in zip(letters, options, strict=True)
        ],
        total,
    )
    sums = add(
        "Total",
        [Formula(f"{letter}{before}+{letter}{tax}", one.total) for letter, one in zip(letters, options, strict=True)],
        total,
    )
    if len(options) > 1:
        add(
            f"More than {options[0].name}",
            [
                None,
                *(
                    Formula(f"{letter}{sums}-{letters[0]}{sums}", one.total - options[0].total)
                    for letter, one in zip(letters[1:], options[1:], strict=True)
                ),
            ],
        )


def _sums(letters: Sequence[str], first: int, last: int, give: Sequence[Decimal]) -> list[Value]:
    return [
        Formula(f"SUM({letter}{first}:{letter}{last})", amount) for letter, amount in zip(letters, give, strict=True)
    ]


def _live(formula: str, gives: Decimal, stored: Decimal) -> Value:
    return Formula(formula, stored) if gives == stored else stored


def _included(book: Book, option: OfferedOption, number: int, title: str) -> None:
    sheet = book.sheet(
        f"Option {number}", [Column("In it", 60, WRAPPED), Column("How many", 16, Look(align="right", line=True))],
        freeze=2, foot=f"{title}: {option.name}",
    )  # fmt: skip
    sheet.row([option.name], TITLE, height=24)
    sheet.headings()
    for house in option.houses:
        sheet.row([house.name, house.quantity])
        for heading, words in house.facts:
            sheet.row([f"{heading}: {words}", None])
    for row in option.included:
        sheet.row(list(row))
    for work in option.work:
        sheet.row([f"Work: {work}", None])
    sheet.finish()
