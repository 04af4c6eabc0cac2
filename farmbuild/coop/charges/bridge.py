"""The arithmetic of charges, from planning."""

from farmbuild.planning.pricing.charges import (
    ChargeLine,
    Since,
    day_lines,
    days_between,
    free_by_season,
    lines_amount,
    once_line,
)

__all__ = ["ChargeLine", "Since", "day_lines", "days_between", "free_by_season", "lines_amount", "once_line"]
