"""Houses of a site as rectangles, for planning."""

from __future__ import annotations

from farmbuild.planning.placing import MAX_PLACED, Neighbours, Point, Rectangle, free_between, neighbours_among
from farmbuild.sites.models import House

__all__ = [
    "MAX_PLACED",
    "Neighbours",
    "Point",
    "Rectangle",
    "free_between",
    "is_placed",
    "neighbours_among",
    "rectangle_of",
]


def is_placed(house: House) -> bool:
    return house.along is not None and house.across is not None


def rectangle_of(house: House) -> Rectangle:
    """Between the lines of its posts; one that is not placed begins at the stake."""
    along, across = float(house.along or 0), float(house.across or 0)
    return Rectangle(along, across, float(house.length), float(house.post_span), float(house.ridge_turn))
