"""A reply row by row against the line that it names, by hand. No database."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.buying.replying import compare
from farmbuild.workbooks.replies import ReplyLine

NEED_BY = date(2027, 5, 3)


def line(position=1, **values) -> PurchaseOrderLine:
    given = {
        "description": "1-3/8 in rail, 10'",
        "supplier_code": "IP-1",
        "quantity": 60,
        "unit_price": Decimal("13.4"),
    }
    return PurchaseOrderLine(position=position, need_by=NEED_BY, **given | values)


def answer(**values) -> ReplyLine:
    """As sent: nothing written over."""
    given = {
        "row": 9,
        "number": 1,
        "item": "rail",
        "code": "IP-1",
        "quantity": 60,
        "price": None,
        "price_over": Decimal("13.4"),
        "promised": None,
        "needed_by": NEED_BY,
        "remark": "",
    }
    return ReplyLine(**given | values)


def one(mine: PurchaseOrderLine, **values) -> dict:
    (row,) = compare([mine], [answer(**values)])
    return row


def said(row) -> tuple:
    return row["kind"], row["price"], row["quantity"], row["promised"]


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({}, ("same", None, None, None)),
        ({"price": Decimal("13.4")}, ("same", "13.4", None, None)),
        ({"price": Decimal("13.5")}, ("differs", "13.5", None, None)),
        ({"price": Decimal("13.3")}, ("differs", "13.3", None, None)),
        ({"price_over": Decimal("13.5")}, ("differs", "13.5", None, None)),
        ({"price": Decimal("12"), "price_over": Decimal("13.5")}, ("differs", "12", None, None)),
        ({"price_over": None}, ("same", None, None, None)),
        ({"quantity": 59}, ("differs", None, 59, None)),
        ({"quantity": 0}, ("differs", None, 0, None)),
        ({"quantity": None}, ("same", None, None, None)),
        ({"remark": "by lorry"}, ("differs", None, None, None)),
        ({"promised": date(2027, 5, 2)}, ("same", None, None, "2027-05-02")),
        ({"promised": NEED_BY}, ("same", None, None, "2027-05-03")),
        ({"promised": date(2027, 5, 4)}, ("differs", None, None, "2027-05-04")),
        ({"needed_by": date(2027, 5, 4)}, ("differs", None, None, "2027-05-04")),
        ({"needed_by": date(2027, 5, 4), "promised": NEED_BY}, ("same", None, None, "2027-05-03")),
        ({"problems": {"Price": "No number."}, "price": Decimal(1)}, ("bad", "1", None, None)),
    ],
)
def test_what_differs_from_what_was_ordered(values, told):
    assert said(one(line(), **values)) == told


def test_what_was_ordered_stands_beside_it():
    assert one(line())["ordered"] == ["13.4", 60, "2027-05-03"]


@pytest.mark.parametrize(
    ("mine", "values", "same"),
    [
        ({}, {"item": "something else"}, True),
        ({}, {"code": "", "item": "RAIL"}, True),
        ({}, {"code": "IP-2"}, True),
        ({}, {"code": "IP-2", "item": "post"}, False),
        ({"supplier_code": ""}, {"code": "", "item": "post"}, False),
        ({"supplier_code": ""}, {"code": ""}, True),
    ],
)
def test_a_row_is_of_its_line_by_code_or_by_name(mine, values, same):
    row = one(line(**mine), **values)
    assert (row["kind"], "Item" in row["problems"]) == (("same", False) if same else ("bad", True))


def test_rows_in_the_order_of_the_sheet_and_the_lines_left_out_last():
    rows = compare(
        [line(1), line(2), line(3)],
        [answer(row=9, number=3), answer(row=10, number=7), answer(row=11, number=None), answer(row=12, number=3)],
    )
    assert [(row["row"], row["position"], row["kind"]) for row in rows] == [
        (9, 3, "same"),
        (10, None, "added"),
        (11, None, "added"),
        (12, 3, "bad"),
        (None, 1, "missing"),
        (None, 2, "missing"),
    ]
    assert rows[3]["problems"] == {"No.": "Row 9 has the number 3 too. Leave one of them out."}
    assert (rows[1]["price"], rows[1]["quantity"], rows[1]["promised"]) == ("13.4", 60, "2027-05-03")
    assert (rows[4]["item"], rows[4]["ordered"]) == ("1-3/8 in rail, 10'", ["13.4", 60, "2027-05-03"])
