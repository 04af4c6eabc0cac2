"""The split of a joint order on paper, with a line to sign for each member, and as a workbook."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path

import typst
from django.utils.translation import gettext

from farmbuild.measure import UnitSystem, format_count, format_day, format_money
from farmbuild.workbooks.words import COUNT, money_format, money_look
from farmbuild.workbooks.writing import NOTE, TITLE, WRAPPED, Book, Column, Formula, Look

_LAYOUT = Path(__file__).with_name("split.typ")
#: Letters up to here come with the program: Latin, Greek, Cyrillic.
_OWN_LETTERS = 0x52F
_SIGNS = range(0x2000, 0x2300)
_HEADS = 3
_TOTAL = Look(total=True)


@dataclass(frozen=True)
class SheetRow:
    """``pieces``: of each item, (ordered, got); ``alone``: what it would have paid by itself, None where not known."""

    member: str
    pieces: Sequence[tuple[int, int]]
    goods: Decimal
    delivery: Decimal
    tax: Decimal
    owes: Decimal
    alone: Decimal | None
    signed: str = ""


@dataclass(frozen=True)
class SplitSheet:
    """``note`` says in a sentence how it was split; ``day``: of the order."""

    title: str
    author: str
    day: date
    currency: str
    tax_name: str
    units: UnitSystem
    items: Sequence[str]
    rows: Sequence[SheetRow]
    note: str


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def split_pdf(sheet: SplitSheet) -> bytes:
    """What is typed by people goes in as data, never as layout."""

    def money(amount: Decimal) -> str:
        return format_money(amount, sheet.currency)

    data = json.dumps(
        {
            "title": sheet.title,
            "letter": sheet.units == UnitSystem.IMPERIAL,
            "told": f"{sheet.author}, {format_day(sheet.day)}. {sheet.note}",
            "heads": ["Member", "Pieces", "Goods", "Delivery", sheet.tax_name, "Owes", "Received, signed"],
            "rows": [
                [
                    row.member,
                    [
                        pieces_words(item, *pair)
                        for item, pair in zip(sheet.items, row.pieces, strict=True)
                        if any(pair)
                    ],
                    *map(money, (row.goods, row.delivery, row.tax, row.owes)),
                    row.signed,
                ]
                for row in sheet.rows
            ],
            "sums": [money(sum((getattr(row, name) for row in sheet.rows), Decimal(0))) for name in _AMOUNTS],
        },
        ensure_ascii=False,
    )
    own = all(ord(letter) <= _OWN_LETTERS or ord(letter) in _SIGNS for letter in data)
    return typst.compile(_layout(), format="pdf", sys_inputs={"split": data}, ignore_system_fonts=own)


_AMOUNTS = ("goods", "delivery", "tax", "owes")


def pieces_words(item: str, ordered: int, got: int) -> str:
    pieces = format_count(got)
    if got != ordered:
        pieces = gettext("%(got)s of %(ordered)s") % {"got": pieces, "ordered": format_count(ordered)}
    return f"{pieces} × {item}"


def split_workbook(sheet: SplitSheet) -> bytes:
    """One sheet; the sums and what each saves are formulas."""
    book = Book(title=sheet.title, author=sheet.author, stamp=sheet.day, units=sheet.units)
    money = money_look(sheet.currency)
    amounts = [f"{name}, {sheet.currency}" for name in ("Goods", "Delivery", sheet.tax_name, "Owes", "Alone", "Saves")]
    columns = [
        Column("Member", 28, WRAPPED),
        *(Column(f"{item}, {word}", 16, COUNT) for item in sheet.items for word in ("ordered", "got")),
        *(Column(heading, 15, money) for heading in amounts),
        Column("Received, signed", 28, WRAPPED),
    ]
    page = book.sheet("Split", columns, freeze=_HEADS, landscape=True, foot=sheet.title)
    page.row([sheet.title], TITLE, height=24)
    page.row([sheet.note], NOTE, height=32)
    page.join(1, len(columns))
    first = page.headings() + 1
    counts = 2 * len(sheet.items)
    letters = [_letter(at) for at in range(len(columns))]
    owes, alone = letters[1 + counts + 3], letters[1 + counts + 4]
    for at, row in enumerate(sheet.rows, first):
        saves = None if row.alone is None else Formula(f"{alone}{at}-{owes}{at}", row.alone - row.owes)
        pieces = [count or None for pair in row.pieces for count in pair]
        page.row(
            [row.member, *pieces, row.goods, row.delivery, row.tax, row.owes, row.alone, saves, row.signed or None],
            height=24,
        )
    last = first + len(sheet.rows) - 1
    if sheet.rows:
        sums = [sum((row.pieces[at // 2][at % 2] for row in sheet.rows), 0) for at in range(counts)]
        sums += [sum((getattr(row, name) for row in sheet.rows), Decimal(0)) for name in _AMOUNTS]
        known = [row for row in sheet.rows if row.alone is not None]
        sums += [sum((row.alone or Decimal(0) for row in known), Decimal(0))]
        sums += [sum(((row.alone or Decimal(0)) - row.owes for row in known), Decimal(0))]
        total = Look(number=money_format(sheet.currency), align="right", total=True)
        looks = [Look(number="#,##0", align="right", total=True)] * counts + [total] * 6
        cells = [
            Formula(f"SUM({letter}{first}:{letter}{last})", value)
            for letter, value in zip(letters[1:], sums, strict=False)
        ]
        page.row(["In all", *cells, None], [_TOTAL, *looks, _TOTAL])
    page.finish()
    return book.to_bytes()


def _letter(at: int) -> str:
    """The column's letters, from 0 for A."""
    letters = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
