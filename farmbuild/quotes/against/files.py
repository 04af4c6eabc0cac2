"""Cost against quote of one job as a workbook and as plain text: the sums of its page, each cause and each line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_day, round_money
from farmbuild.quotes.against.presenters import Against, CauseRow, LineRow, PlaceRow
from farmbuild.workbooks.plain_text import csv_bytes
from farmbuild.workbooks.words import money_format, money_look
from farmbuild.workbooks.writing import NOTE, TITLE, WRAPPED, Book, Column, Formula, Look, Sheet

_QUANTITY = Look(number="#,##0.###", align="right", line=True)
_LABEL = Look(total=True)
HEADINGS = ("Kind", "What", "Quoted", "Used", "Quoted at", "Cost", "Difference", "By quantity", "By price", "Currency")


def costs_workbook(shown: Against) -> bytes:
    """The bytes of an .xlsx file of three sheets."""
    job = shown.costs.job
    return against_workbook(
        title=f"Cost of {job.reference} against its quote",
        told=f"{job}, for {job.customer}. {shown.answer} Before tax, as of {format_day(shown.today)}.",
        day=shown.today,
        author=job.organisation.name,
        units=UnitSystem(job.organisation.unit_system),
        currency=shown.costs.currency,
        quoted=shown.costs.quoted,
        causes=shown.causes,
        sums=[*shown.sums, ("Done, by cost", shown.done), *shown.earned],
        lines=shown.lines,
        places=shown.places,
    )


def against_workbook(
    *,
    title: str,
    told: str,
    day: date,
    author: str,
    units: UnitSystem,
    currency: str,
    quoted: Decimal,
    causes: Sequence[CauseRow],
    sums: Sequence[tuple[str, Decimal | str]],
    lines: Sequence[LineRow],
    places: Sequence[PlaceRow],
) -> bytes:
    """``sums``: what stands under the causes, amounts or words."""
    book = Book(title=title, author=author, stamp=day, units=units)
    money = money_look(currency)
    total = Look(number=money_format(currency), align="right", total=True)

    sheet = book.sheet("Causes", [Column("What", 44, WRAPPED), Column(currency, 18, money)], freeze=3, foot=title)
    sheet.row([title], TITLE, height=24)
    sheet.row([told], NOTE)
    sheet.join(1, 2)
    sheet.headings()
    first = sheet.row(["Quoted", quoted])
    for cause in causes:
        sheet.row([cause.what, cause.amount])
    cost = quoted + sum((cause.amount for cause in causes), Decimal(0))
    last = sheet.rows
    more = Formula(f"SUM(B{first + 1}:B{last})" if causes else "0", cost - quoted)
    sheet.row(["More or less than quoted", more], [_LABEL, total])
    sheet.row(["Cost so far", Formula(f"SUM(B{first}:B{last})", cost)], [_LABEL, total])
    sheet.blank()
    for words, amount in sums:
        sheet.row([words, amount])
    sheet.finish()

    columns = [
        Column("What", 34, WRAPPED),
        Column("Quoted", 11, _QUANTITY),
        Column("Used", 11, _QUANTITY),
        *(Column(f"{name}, {currency}", 14, money) for name in HEADINGS[4:9]),
        Column("Standard price", 34, WRAPPED),
    ]
    sheet = book.sheet("Lines", columns, freeze=1, landscape=True, foot=title)
    sheet.headings()
    for line in lines:
        at = sheet.rows + 1
        sheet.row(
            [
                *(line.name, line.foreseen, line.used, line.foreseen_amount, line.paid),
                Formula(f"E{at}-D{at}", line.difference),
                *(line.of_quantity, line.of_price, line.note),
            ]
        )
    amounts = [(line.foreseen_amount, line.paid, line.difference, line.of_quantity, line.of_price) for line in lines]
    _sum_up(sheet, "DEFGH", amounts, total)
    sheet.finish()

    names = ("Quoted", "Changed", "On order", "Cost so far", "Still to come", "At completion")
    columns = [Column("House", 34, WRAPPED), *(Column(f"{name}, {currency}", 15, money) for name in names)]
    sheet = book.sheet("Houses", columns, freeze=1, landscape=True, foot=title)
    sheet.headings()
    amounts = [
        (place.quoted, place.changed, place.committed, place.actual, place.to_come, place.at_completion)
        for place in places
    ]
    for place, row in zip(places, amounts, strict=True):
        sheet.row([place.name, *row])
    _sum_up(sheet, "BCDEFG", amounts, total)
    sheet.finish()
    return book.to_bytes()


def _sum_up(sheet: Sheet, letters: str, rows: Sequence[tuple[Decimal, ...]], look: Look) -> None:
    """A row of sums under the columns of these letters."""
    if not rows:
        return
    last, before = sheet.rows, ord(letters[0]) - ord("B")
    sums = [
        Formula(f"SUM({letter}{last - len(rows) + 1}:{letter}{last})", sum(column, Decimal(0)))
        for letter, column in zip(letters, zip(*rows, strict=True), strict=True)
    ]
    sheet.row(["In all", *[None] * before, *sums], [_LABEL] * (before + 1) + [look] * len(sums))


def costs_csv_of(shown: Against) -> bytes:
    """A row a line, then a row a cause, and last what was quoted and what it cost: both kinds add up to the last."""
    currency = shown.costs.currency

    def coins(*amounts: Decimal) -> list[Decimal]:
        return [round_money(amount, currency) for amount in amounts]

    lines = [
        [
            *("Line", line.name, line.foreseen.normalize(), line.used.normalize()),
            *coins(line.foreseen_amount, line.paid, line.difference, line.of_quantity, line.of_price),
            currency,
        ]
        for line in shown.lines
    ]
    causes = [["Cause", cause.what, *[None] * 4, *coins(cause.amount), None, None, currency] for cause in shown.causes]
    sums = coins(shown.costs.quoted, shown.costs.actual, shown.difference)
    whole = ["In all", str(shown.costs.job), None, None, *sums, None, None, currency]
    return csv_bytes([HEADINGS, *lines, *causes, whole])
