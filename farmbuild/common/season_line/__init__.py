"""Time drawn as one line: weeks across, and a row a house, an order, a material with its level, or a kind of event.

Dataclasses in.
"""

from farmbuild.common.season_line.axis import Axis, short_day
from farmbuild.common.season_line.bars import BarLine, BarRow
from farmbuild.common.season_line.levels import Level, LevelLine
from farmbuild.common.season_line.rows import Flag, Row, SeasonLine, Sign, Stretch, joined

__all__ = [
    "Axis",
    "BarLine",
    "BarRow",
    "Flag",
    "Level",
    "LevelLine",
    "Row",
    "SeasonLine",
    "Sign",
    "Stretch",
    "joined",
    "short_day",
]
