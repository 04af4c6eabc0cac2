"""PDF and workbook of statements, made of what is frozen alone; the same bytes for the same statement."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import typst

from farmbuild.coop.statement.frozen import balance_words, days_of, pieces_of, title_of, words_of
from farmbuild.measure import UnitSystem, format_count, format_day, format_money, use_amounts
from farmbuild.workbooks.words import money_format, money_look
from farmbuild.workbooks.writing import NOTE, PLAIN, TITLE, WRAPPED, Book, Column, Formula, Look, Sheet

_PIECES = Look(number="#,##0", align="right", line=True)
_LAYOUT = Path(__file__).with_name("statement.typ")
#: Letters up to here come with the program: Latin, Greek, Cyrillic.
_OWN_LETTERS = 0x52F
_SIGNS = range(0x2000, 0x2300)
_HEADS = 5
_SUMS = ("Before", "Posted", "After")
_SIGN_WORDS = "Above 0: the member owes it. Below 0: it was paid, or comes to the member."
#: A sheet's name has up to 31 letters, and none of these (ECMA-376 part 1, 18.2.19; from memory).
_NO_SHEET = str.maketrans(dict.fromkeys("[]:*?/\\'", " "))


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def statement_pdf(shown: Mapping[str, Any]) -> bytes:
    """What is typed by people goes in as data, never as layout."""
    first, last = days_of(shown)

    def money(text: str) -> str:
        return format_money(Decimal(text), shown["currency"])

    with use_amounts(True):
        data = {
            "title": title_of(shown),
            "letter": UnitSystem(shown["units"]) == UnitSystem.IMPERIAL,
            "sender": shown["sender"],
            "to": shown["to"],
            "days": f"{format_day(first)} to {format_day(last)}",
            "opening": [_opening_words(shown), money(shown["opening"])],
            "parts": [
                {
                    "title": part["title"],
                    "rows": [[format_day(_day(row)), words_of(row), money(row["amount"])] for row in part["rows"]],
                    "amount": money(part["amount"]),
                }
                for part in shown["parts"]
            ],
            "pieces": {
                "title": f"Pieces owed on {format_day(last)}",
                "rows": [[whom, what, format_count(count)] for whom, what, count in pieces_of(shown)],
            },
            "closing": [
                balance_words(Decimal(shown["closing"])),
                format_money(abs(Decimal(shown["closing"])), shown["currency"]),
            ],
        }
    text = json.dumps(data, ensure_ascii=False)
    own = all(ord(letter) <= _OWN_LETTERS or ord(letter) in _SIGNS for letter in text)
    return typst.compile(_layout(), format="pdf", sys_inputs={"statement": text}, ignore_system_fonts=own)


def _day(row: Mapping[str, Any]) -> date:
    return date.fromisoformat(row["day"])


def _opening_words(shown: Mapping[str, Any]) -> str:
    return f"Balance of statement {shown['after']}" if shown["after"] else "Balance before"


def statement_workbook(shown: Mapping[str, Any]) -> bytes:
    """One sheet; part and closing sums are formulas that give the amounts of the statement."""
    book = _book(title_of(shown), shown)
    _member_sheet(book, "Statement", shown)
    return book.to_bytes()


def all_workbook(title: str, frozen: Sequence[Mapping[str, Any]]) -> bytes:
    """A sheet a member, and one before them that adds all up by formulas over those sheets."""
    one = frozen[0]
    book = _book(title, one)
    names = _sheet_names([shown["to"][0] for shown in frozen])
    look = money_look(one["currency"])
    columns = [Column("Member", 40, WRAPPED), *(Column(f"{name}, {one['currency']}", 18, look) for name in _SUMS)]
    first, last = days_of(one)
    sheet = book.sheet("All members", columns, freeze=4, foot=title)
    sheet.row([title], TITLE, height=24)
    sheet.row([f"{one['sender'][0]}, {format_day(first)} to {format_day(last)}"], NOTE)
    sheet.join(1, len(columns))
    sheet.blank()
    top = sheet.headings() + 1
    places = [_places(shown) for shown in frozen]
    for name, shown, place in zip(names, frozen, places, strict=True):
        values = [Decimal(shown["opening"]), _posted(shown), Decimal(shown["closing"])]
        at = sheet.rows + 1
        opening = Formula(f"'{name}'!C{place.opening}", values[0])
        closing = Formula(f"'{name}'!C{place.closing}", values[2])
        sheet.row([shown["to"][0], opening, Formula(f"D{at}-B{at}", values[1]), closing])
    total = Look(number=money_format(one["currency"]), align="right", total=True)
    sums = [
        sum((Decimal(shown["opening"]) for shown in frozen), Decimal(0)),
        sum((_posted(shown) for shown in frozen), Decimal(0)),
        sum((Decimal(shown["closing"]) for shown in frozen), Decimal(0)),
    ]
    cells = [
        Formula(f"SUM({letter}{top}:{letter}{sheet.rows})", value) for letter, value in zip("BCD", sums, strict=True)
    ]
    sheet.row(["In all", *cells], [Look(total=True), total, total, total])
    sheet.finish()
    for name, shown in zip(names, frozen, strict=True):
        _member_sheet(book, name, shown)
    return book.to_bytes()


def _posted(shown: Mapping[str, Any]) -> Decimal:
    return Decimal(shown["closing"]) - Decimal(shown["opening"])


def named(frozen: Sequence[Mapping[str, Any]]) -> list[tuple[str, Mapping[str, Any]]]:
    """Each with a name of its own for its file."""
    return list(zip(_sheet_names([shown["to"][0] for shown in frozen]), frozen, strict=True))


def all_pdfs(frozen: Sequence[tuple[str, Mapping[str, Any]]]) -> bytes:
    """A zip of a PDF a member; names and what each shows. The same bytes for the same statements."""
    out = BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for name, shown in frozen:
            archive.writestr(ZipInfo(f"{name}.pdf", (1980, 1, 1, 0, 0, 0)), statement_pdf(shown))
    return out.getvalue()


def _book(title: str, shown: Mapping[str, Any]) -> Book:
    return Book(title=title, author=shown["sender"][0], stamp=days_of(shown)[1], units=UnitSystem(shown["units"]))


def _sheet_names(members: Sequence[str]) -> list[str]:
    """Each once, in capitals or not."""
    found: list[str] = []
    taken = {"all members"}
    for at, member in enumerate(members, 1):
        name = " ".join(member.translate(_NO_SHEET).split())[:31].strip() or f"Member {at}"
        if name.lower() in taken:
            name = f"{name[:26].strip()} {at}"
        taken.add(name.lower())
        found.append(name)
    return found


class _Places:
    """Rows of a member's sheet in which its balances stand."""

    def __init__(self, opening: int, closing: int) -> None:
        self.opening, self.closing = opening, closing


def _places(shown: Mapping[str, Any]) -> _Places:
    opening = _HEADS + 1
    rows = sum(len(part["rows"]) + 2 for part in shown["parts"])
    return _Places(opening, opening + rows + 1)


def _member_sheet(book: Book, name: str, shown: Mapping[str, Any]) -> None:
    currency = shown["currency"]
    first, last = days_of(shown)
    columns = [Column("Day", 16), Column("What", 64, WRAPPED), Column(f"Amount, {currency}", 18, money_look(currency))]
    title = f"{title_of(shown)}: {shown['to'][0]}"
    sheet = book.sheet(name, columns, freeze=_HEADS, foot=title)
    sheet.row([title], TITLE, height=24)
    for words in (f"{', '.join(shown['sender'])}. {format_day(first)} to {format_day(last)}", _SIGN_WORDS):
        # Joined over all columns, so that its height is not that of the first alone.
        sheet.row([words], NOTE, height=30)
        sheet.join(1, 3)
    sheet.blank()
    sheet.headings()
    _member_rows(sheet, shown)
    sheet.finish()


def _member_rows(sheet: Sheet, shown: Mapping[str, Any]) -> None:
    currency = shown["currency"]
    total = Look(number=money_format(currency), align="right", total=True)
    label = Look(total=True)
    opening = sheet.row([None, _opening_words(shown), Decimal(shown["opening"])])
    sums = []
    for part in shown["parts"]:
        sheet.row([None, part["title"], None], [PLAIN, Look(bold=True), PLAIN])
        top = sheet.rows + 1
        for row in part["rows"]:
            sheet.row([_day(row), words_of(row), Decimal(row["amount"])])
        sum_of = Formula(f"SUM(C{top}:C{sheet.rows})", Decimal(part["amount"]))
        sums.append(sheet.row([None, f"{part['title']} in all", sum_of], [label, label, total]))
    closing = "+".join(f"C{row}" for row in [opening, *sums])
    sheet.row([None, "Balance after", Formula(closing, Decimal(shown["closing"]))], [label, label, total])
    _pieces_rows(sheet, shown)


def _pieces_rows(sheet: Sheet, shown: Mapping[str, Any]) -> None:
    """What is owed in kind, under all amounts; in the last column pieces, not money."""
    rows = pieces_of(shown)
    if not rows:
        return
    sheet.blank()
    bold = Look(bold=True)
    sheet.row(
        [None, f"Pieces owed on {format_day(days_of(shown)[1])}", "Pieces"],
        [PLAIN, bold, Look(bold=True, align="right")],
    )
    for whom, what, count in rows:
        sheet.row([None, f"{whom}: {what}", count], [PLAIN, WRAPPED, _PIECES])
