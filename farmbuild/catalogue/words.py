"""Prices for reading."""

from farmbuild.catalogue.models import Offer
from farmbuild.common.money import format_amount


def prices_in_words(offer: Offer, currency: str) -> str:
    """14.60; from 50: 13.40; from 200: 12.75. ``breaks`` come loaded, smallest amount first."""
    return "; ".join(
        format_amount(row.unit_price, currency)
        if row.from_quantity == 1
        else f"from {row.from_quantity:,}: {format_amount(row.unit_price, currency)}"
        for row in offer.breaks.all()
    )
