"""The one door of common stock to the planner."""

from farmbuild.planning.inputs import InHouse, Lot
from farmbuild.planning.season.naming import common_ref

__all__ = ["InHouse", "Lot", "common_ref"]
