"""Rows of one's own on a house: what they may be, in the order of the form and of the workbook."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from farmbuild.measure import UnitSystem, format_decimal, format_length
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence

MAX_QUANTITY = Decimal(100_000)
#: Decimals of a quantity.
PLACES = 3
MAX_NOTE = 200
MAX_ROWS = 50


class Per(StrEnum):
    """What a quantity is for each of."""

    HOUSE = "house"
    HOOP = "hoop"
    POST = "post"
    BAY = "bay"
    CROSSING = "crossing"
    DOOR = "door"
    END = "end"
    FOOT = "foot"
    METRE = "metre"


PER_NAMES = {
    # Marked by the page that counts houses.
    Per.HOUSE: "house",
    Per.HOOP: _("hoop"),
    Per.POST: _("ground post"),
    Per.BAY: _("bay"),
    Per.CROSSING: _("purlin crossing"),
    Per.DOOR: _("door"),
    Per.END: _("end of the house"),
    Per.FOOT: _("foot of house length"),
    Per.METRE: _("metre of house length"),
}


@dataclass(frozen=True)
class OwnRow:
    """So many of a material for each of something in the house.

    ``length`` of each piece, mm; 0 where the material is counted. ``step``: the kind of work that uses it up, "" for
    none, so that no work waits for it.
    """

    material: str
    quantity: Decimal
    per: Per = Per.HOUSE
    length: Decimal = Decimal(0)
    step: str = ""
    note: str = ""

    def words(self, units: UnitSystem) -> str:
        """For lists of what changed: 2 screw for each hoop, 6 in, set, spare."""
        said: list[str] = [
            sentence(
                "%(quantity)s %(material)s for each %(each)s",
                quantity=format_decimal(self.quantity.normalize()),
                material=self.material,
                each=sentence(PER_NAMES[self.per]),
            )
        ]
        said += [format_length(self.length, units)] if self.length else []
        return joined(", ", [*said, *(text for text in (self.step, self.note) if text)])
