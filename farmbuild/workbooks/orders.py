"""The purchase order to one supplier, as a workbook that is ready to send."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

from farmbuild.measure import format_money, line_tax, line_total, places, round_money, tax_within
from farmbuild.planning.buying.surplus import why_more
from farmbuild.planning.inputs import Buyer, Site, Supplier
from farmbuild.planning.materials import Material
from farmbuild.planning.results import Order, OrderLine
from farmbuild.workbooks import writing
from farmbuild.workbooks.words import (
    COUNT,
    DAY,
    LENGTH,
    LENGTH_TEXT,
    length_number,
    length_text,
    material_size,
    money_format,
    money_look,
    price_look,
    small_unit,
    weight,
)
from farmbuild.workbooks.writing import (
    LABEL,
    LINE_HEIGHT,
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

HEADING_ROW = 8
FIRST_LINE = HEADING_ROW + 1
#: Of the joined cells of buyer, supplier and delivery site, in characters; the frozen head has to stay low.
BLOCK_WIDTH = 52
MAX_BLOCK_LINES = 6
#: Columns that the supplier fills in; replies.py reads them.
CONFIRMED_PRICE, PROMISED_DATE, REMARK = "Confirmed price", "Promised date", "Remark"

NAME = Look(bold=True, wrap=True)
BLOCK = Look(wrap=True)
HEAD_DAY = Look(number=writing.DATE, align="left")
HEAD_NUMBER = Look(number="#,##0.00###", align="left")
SUM_LABEL = Look(align="right", bold=True)
GRAND_LABEL = Look(align="right", total=True)


def order_workbook(
    *,
    order: Order,
    number: str,
    buyer: Buyer,
    supplier: Supplier,
    site: Site,
    order_date: date,
    materials: Mapping[str, Material],
    trial: bool = False,
    deliver_to: Sequence[str] = (),
    note: str = "",
) -> bytes:
    """The bytes of an .xlsx file; ``materials`` by code, lengths in the buyer's unit, money in its currency.

    ``deliver_to``: where each line goes, where they do not all go to ``site``; () leaves the column out.

    Line totals, tax, goods, delivery and total are formulas that give the stored amounts. Where an amount
    was not reached by quantity, price, tax and the supplier's terms, the amount itself stands there. A ``trial`` says
    at its head and foot that nothing is ordered by it, and asks nothing of the supplier.
    """
    title = f"Trial {number}: nothing is ordered by this" if trial else f"Purchase order {number}"
    book = Book(title=title, author=buyer.name, stamp=order_date, units=buyer.units)
    sheet = book.sheet(
        "Order", _columns(buyer, order, elsewhere=bool(deliver_to)), freeze=HEADING_ROW, landscape=True, foot=title
    )
    _write_head(sheet, order, title, buyer, supplier, site, order_date)
    sheet.headings()
    own = _own_taxes(order, buyer)
    for at, line in enumerate(order.lines, 1):
        sheet.row(_line(at, line, order, buyer, materials, own=own) + list(deliver_to[at - 1 : at]))
    _ask(sheet, len(order.lines), buyer, 14 + bool(deliver_to) + own)
    _write_totals(sheet, order, buyer, supplier)
    for text in _more(order, buyer, supplier):
        sheet.row([None, text], BLOCK, height=LINE_HEIGHT * lines_of(text, BLOCK_WIDTH))
        sheet.join(2, 3)
    if note:
        sheet.row([None, note], BLOCK, height=LINE_HEIGHT * lines_of(note, BLOCK_WIDTH))
        sheet.join(2, 3)
    last = title if trial else "Please fill in the last three columns and send this sheet back."
    sheet.row([None, last], LABEL)
    sheet.finish()
    return book.to_bytes()


def _tax_label(buyer: Buyer) -> str:
    return buyer.tax_name or "Tax"


def _tax_of(order: Order, buyer: Buyer) -> str:
    """The tax as it stands at its column and sum: added, or in the amounts to its left and above it."""
    return f"{_tax_label(buyer)} in it" if order.tax_included else _tax_label(buyer)


def _percent(line: OrderLine, buyer: Buyer) -> Decimal:
    return buyer.tax_percent if line.tax_percent is None else line.tax_percent


def _own_taxes(order: Order, buyer: Buyer) -> bool:
    """Whether lines have another tax than the head says, so that each says its own."""
    return any(_percent(line, buyer) != buyer.tax_percent for line in order.lines)


def _columns(buyer: Buyer, order: Order, *, elsewhere: bool) -> list[Column]:
    return [
        Column("No.", 5, COUNT),
        Column("Item", 36, WRAPPED),
        Column("Your item number", 18, PLAIN),
        Column("Size", 28, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {small_unit(buyer.units)}", 13, LENGTH),
        Column("Pieces in a pack", 11, COUNT),
        Column("Packs", 9, COUNT),
        Column("Quantity", 11, COUNT),
        Column(f"Price of one, {buyer.currency}", 13, price_look(buyer.currency)),
        Column(f"Line total, {buyer.currency}", 15, money_look(buyer.currency)),
        Column(f"{_tax_of(order, buyer)}, {buyer.currency}", 13, money_look(buyer.currency)),
        *([Column(f"{_tax_label(buyer)}, %", 9, HEAD_NUMBER)] if _own_taxes(order, buyer) else []),
        Column("Needed by", 14, DAY),
        *([Column("Deliver to", 30, WRAPPED)] if elsewhere else []),
        Column(f"{CONFIRMED_PRICE}, {buyer.currency}", 13, price_look(buyer.currency)),
        Column(PROMISED_DATE, 14, DAY),
        Column(REMARK, 22, WRAPPED),
    ]


def _total_row(order: Order) -> int:
    """Lines, then goods, delivery, tax and total."""
    return HEADING_ROW + len(order.lines) + 4


def _write_head(
    sheet: Sheet,
    order: Order,
    title: str,
    buyer: Buyer,
    supplier: Supplier,
    site: Site,
    order_date: date,
) -> None:
    def three(first: str, second: str, third: str, look: Look) -> None:
        values: list[Value] = [None, first, None, second, *[None] * 4, third, *[None] * 4]
        lines = min(max(lines_of(text, BLOCK_WIDTH) for text in (first, second, third)), MAX_BLOCK_LINES)
        sheet.row(values, look, height=LINE_HEIGHT * lines)
        for start, end in ((2, 3), (4, 8), (9, 13)):
            sheet.join(start, end)

    total_look = Look(number=money_format(buyer.currency), align="right", bold=True)
    total = Formula(f"K{_total_row(order)}", order.total)
    sheet.row(
        [None, title, *[None] * 6, "Total", None, total, buyer.currency],
        [LABEL, TITLE, *[LABEL] * 6, SUM_LABEL, LABEL, total_look, NAME],
        height=24,
    )
    three("From", "To", "Deliver to", LABEL)
    three(buyer.name, supplier.name, site.name, NAME)
    three(buyer.address, supplier.address, site.address, BLOCK)
    three(buyer.contact, supplier.contact, "", BLOCK)
    sheet.row(
        [None, "Order date", order_date, "Needed by, the first of it", order.need_by],
        [LABEL, LABEL, HEAD_DAY, LABEL, HEAD_DAY],
    )
    sheet.row(
        [
            None,
            f"{_tax_label(buyer)}, %",
            buyer.tax_percent,
            f"Delivery charge, {buyer.currency}",
            supplier.delivery_charge,
            *[None] * 3,
            "Delivery is free from",
            None,
            supplier.free_delivery_from,
        ],
        [LABEL, LABEL, HEAD_NUMBER, LABEL, HEAD_NUMBER, *[LABEL] * 5, HEAD_NUMBER],
    )


def _ask(sheet: Sheet, lines: int, buyer: Buyer, first: int) -> None:
    """Say in the supplier's own columns, from the column ``first``, what goes there."""
    notes = (
        f"The price of one in {buyer.currency}, where it is another than the price to the left.",
        "The day on which it comes, for example 2027-05-12.",
        "Anything that we should know about this line.",
    )
    titles = (CONFIRMED_PRICE, PROMISED_DATE, REMARK)
    for column, (title, text) in enumerate(zip(titles, notes, strict=True), first):
        sheet.prompt(column, FIRST_LINE, HEADING_ROW + max(lines, 1), title=title, text=text)


def _more(order: Order, buyer: Buyer, supplier: Supplier) -> Iterator[str]:
    """Lines that whole packs alone do not explain."""
    for at, line in enumerate(order.lines, 1):
        if line.quantity - line.needed >= line.pack and line.quantity > line.needed:
            why = why_more(
                needed=line.needed,
                pack=line.pack,
                quantity=line.quantity,
                unit_price=line.unit_price,
                goods=order.goods,
                supplier=supplier,
                money=lambda amount: format_money(amount, buyer.currency),
            )
            yield f"No. {at}: {why}."


def _line(
    at: int, line: OrderLine, order: Order, buyer: Buyer, materials: Mapping[str, Material], *, own: bool
) -> list[Value]:
    """``own``: each line says its tax."""
    row, decimals, percent = HEADING_ROW + at, places(buyer.currency), _percent(line, buyer)
    cell = f"M{row}" if own else "$C$7"
    share = f"{cell}/(100+{cell})" if order.tax_included else f"{cell}/100"
    material = materials.get(line.material)
    return [
        at,
        material.name if material else line.description,
        line.supplier_code,
        material_size(material, buyer.units) if material else None,
        length_text(line.length, buyer.units),
        length_number(line.length, buyer.units),
        line.pack,
        line.packs,
        _live(f"G{row}*H{row}", line.pack * line.packs, line.quantity),
        line.unit_price,
        _live(
            f"ROUND(I{row}*J{row},{decimals})",
            line_total(line.quantity, line.unit_price, buyer.currency),
            line.line_total,
        ),
        _live(
            f"ROUND(K{row}*{share},{decimals})",
            (tax_within if order.tax_included else line_tax)(line.line_total, percent, buyer.currency),
            line.tax,
        ),
        *([percent] if own else []),
        line.need_by,
    ]


def _live(formula: str, gives: Decimal | int, stored: Decimal | int) -> Value:
    return Formula(formula, stored) if gives == stored else stored


def _write_totals(sheet: Sheet, order: Order, buyer: Buyer, supplier: Supplier) -> None:
    first, last = FIRST_LINE, HEADING_ROW + len(order.lines)
    goods, delivery, tax = last + 1, last + 2, last + 3

    sum_look = Look(number=money_format(buyer.currency), align="right", bold=True)
    total_look = Look(number=money_format(buyer.currency), align="right", total=True)

    def add(label: str, value: Value, label_look: Look = SUM_LABEL, look: Look = sum_look) -> None:
        sheet.row([*[None] * 8, label, None, value], [*[LABEL] * 8, label_look, label_look, look])
        sheet.join(9, 10)

    line_totals = sum((line.line_total for line in order.lines), Decimal(0))
    taxes = sum((line.tax for line in order.lines), Decimal(0))
    add("Goods", _live(f"SUM(K{first}:K{last})" if order.lines else "0", line_totals, order.goods))
    rounded = f"ROUND($E$7,{places(buyer.currency)})"
    free_from = supplier.free_delivery_from
    if free_from is None:
        charge, rule = supplier.delivery_charge, rounded
    else:
        charge = Decimal(0) if order.goods >= free_from else supplier.delivery_charge
        rule = f"IF(K{goods}>=$K$7,0,{rounded})"
    add("Delivery", _live(rule, round_money(charge, buyer.currency), order.delivery))
    add(_tax_of(order, buyer), _live(f"SUM(L{first}:L{last})" if order.lines else "0", taxes, order.tax))
    parts = order.goods + order.delivery + (Decimal(0) if order.tax_included else order.tax)
    summed = delivery if order.tax_included else tax
    add("Total", _live(f"SUM(K{goods}:K{summed})", parts, order.total), GRAND_LABEL, total_look)
    assert sheet.rows == _total_row(order) and delivery == tax - 1
    sheet.blank()
    if order.weight_kg is not None:
        figure, unit = weight(order.weight_kg, buyer.units)
        sheet.row(
            [None, f"Weight of the tube, {unit}", figure],
            [LABEL, LABEL, Look(number="#,##0.0", align="left")],
        )
