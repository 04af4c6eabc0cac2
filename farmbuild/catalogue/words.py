"""Prices for reading."""

from decimal import Decimal

from farmbuild.catalogue.models import Offer


def exact_price(price: Decimal) -> str:
    """At least two decimals, and more where there are more: half a cent a screw matters."""
    decimals = len(f"{price.normalize():f}".partition(".")[2])
    return f"{price:,.{max(2, decimals)}f}"


def prices_in_words(offer: Offer, currency: str) -> str:
    """USD 14.60; from 50: 13.40; from 200: 12.75. ``breaks`` come loaded, smallest amount first."""
    return "; ".join(
        f"{currency} {exact_price(row.unit_price)}"
        if row.from_quantity == 1
        else f"from {row.from_quantity:,}: {exact_price(row.unit_price)}"
        for row in offer.breaks.all()
    )
