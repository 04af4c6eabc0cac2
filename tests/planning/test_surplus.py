"""Why an order line has more than is needed; quantities and prices are invented."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.measure import format_money
from farmbuild.planning.buying.surplus import why_more
from farmbuild.planning.inputs import Supplier

BOLTS = Supplier("nuts", "Invented Bolts", minimum_order=Decimal(150), free_delivery_from=Decimal(400))


def said(needed: int, quantity: int, *, pack: int = 1, price: str = "0.34", goods: str | None = None) -> str:
    return why_more(
        needed=needed,
        pack=pack,
        quantity=quantity,
        unit_price=Decimal(price),
        goods=Decimal(price) * quantity if goods is None else Decimal(goods),
        supplier=BOLTS,
        money=lambda amount: format_money(amount, "USD"),
    )


@pytest.mark.parametrize(
    ("words", "given"),
    [
        ("", {"needed": 124, "quantity": 124, "goods": "500"}),
        (
            "76 more than the 124 needed, because it comes in packs of 100",
            {"needed": 124, "quantity": 200, "pack": 100, "goods": "500"},
        ),
        # 450 x 0.34 = 153; 124 x 0.34 = 42.16.
        (
            "326 more than the 124 needed, because Invented Bolts takes no order below $150.00",
            {"needed": 124, "quantity": 450},
        ),
        (
            "326 more than the 124 needed, because it comes in packs of 50 and"
            " Invented Bolts takes no order below $150.00",
            {"needed": 124, "quantity": 450, "pack": 50},
        ),
        (
            "20 more than the 380 needed, because Invented Bolts delivers free from $400.00",
            {"needed": 380, "quantity": 400, "price": "1"},
        ),
        # What is needed comes to 150.00 just so, and that order is taken.
        (
            "50 more than the 150 needed, because so many cost less than fewer",
            {"needed": 150, "quantity": 200, "price": "1"},
        ),
        (
            "10 more than the 90 needed, because so many cost less than fewer",
            {"needed": 90, "quantity": 100, "goods": "900"},
        ),
    ],
)
def test_why_more_is_bought(words: str, given: dict) -> None:
    assert said(**given) == words
