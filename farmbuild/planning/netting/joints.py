"""Sleeves, screws and tape for the joints of runs, where a run is made of other sticks than its house asks for.

Where the house has all of them that its spec asks for, or the sticks of its runs, they stay as the spec has them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from farmbuild.measure import UnitSystem, count_noun, format_signed
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.parts import hoops, purlins
from farmbuild.planning.house.spec import House
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow

SCREWS, TAPE, CURTAINS, SLEEVES = "joint screws", "joint tape", "curtain pipes", purlins.SLEEVE_ROW

#: Rows that follow the joints of the sticks that a run is made of.
OF_JOINTS = frozenset((SCREWS, TAPE, SLEEVES))


@dataclass
class MoreJoints:
    """Than the sticks of the spec make, in one house; below 0: so many fewer. No tape goes over those of curtains."""

    taped: int = 0
    of_curtains: int = 0

    def add(self, row: TakeoffRow, chosen: list[TakeoffRow]) -> None:
        """One stick more in a run is one joint more."""
        self.count(row.purpose, sum(part.quantity for part in chosen) - row.quantity)

    def count(self, purpose: str, more: int) -> None:
        if purpose == CURTAINS:
            self.of_curtains += more
        else:
            self.taped += more

    def follow(
        self, house: House, row: TakeoffRow, materials: Mapping[str, Material], units: UnitSystem, *, before: int = 0
    ) -> TakeoffRow:
        """The row of sleeves, screws or tape as these joints want it; every other row as it is.

        ``before``: taped joints more that the row has in it already.
        """
        if row.purpose == SCREWS:
            joints = self.taped + self.of_curtains
            change = self.taped * purlins.screws_a_joint(house.spec)
            change += self.of_curtains * house.spec.screws_per_joint
        elif row.purpose == SLEEVES:
            joints = change = self.taped
        elif row.purpose == TAPE:
            joints = self.taped
            built = house_context(house.spec, materials, units)
            usual, each = hoops.joints(built) + purlins.joints(built) + before, house.spec.joints_per_roll
            change = -(-(usual + joints) // each) - -(-usual // each)
        else:
            return row
        if not joints:
            return row
        many = f"{count_noun(abs(joints), 'joint')} {'more' if joints > 0 else 'fewer'}"
        working = f"{row.working}; the sticks taken for runs make {many}: {format_signed(change)}"
        return replace(row, quantity=max(row.quantity + change, 0), working=working)
