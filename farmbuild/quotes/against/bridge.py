"""The arithmetic of cost against quote, from planning."""

from farmbuild.planning.pricing.comparison import Comparison, Key, Planned, Room, Row, Used, compare, to_come
from farmbuild.planning.pricing.differences import Cause
from farmbuild.planning.pricing.lessons import Spread, spread_of
from farmbuild.planning.pricing.progress import Progress, progress

__all__ = [
    "Cause",
    "Comparison",
    "Key",
    "Planned",
    "Progress",
    "Room",
    "Row",
    "Spread",
    "Used",
    "compare",
    "progress",
    "spread_of",
    "to_come",
]
