"""Time drawn as one line: weeks across and a row a house, or a row a material with its level. Dataclasses in."""

from farmbuild.common.season_line.axis import Axis, short_day
from farmbuild.common.season_line.levels import Level, LevelLine
from farmbuild.common.season_line.rows import Flag, Row, SeasonLine, Sign, Stretch, joined

__all__ = ["Axis", "Flag", "Level", "LevelLine", "Row", "SeasonLine", "Sign", "Stretch", "joined", "short_day"]
