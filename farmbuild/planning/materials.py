"""Materials as houses and seasons name them: plain values, no database."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum


class Kind(StrEnum):
    """What a material is; the first four are bought by length and cut, the rest are counted."""

    TUBE = "tube"
    LUMBER = "lumber"
    FILM = "film"
    CHANNEL = "channel"
    FASTENER = "fastener"
    ANCHOR = "anchor"
    HARDWARE = "hardware"


BY_LENGTH = frozenset({Kind.TUBE, Kind.LUMBER, Kind.FILM, Kind.CHANNEL})


@dataclass(frozen=True)
class Material:
    code: str
    name: str
    kind: Kind
    #: Film: width of the roll. Lumber: dressed width. Tube: outside diameter.
    width: Decimal | None = None
    #: Lumber: dressed thickness. Tube: wall.
    thickness: Decimal | None = None
    #: A tube with one end reduced so that it slides into the next stick.
    swaged: bool = False
    #: Tube: stated yield, MPa; 0 where none is stated, None in plans stored before it was asked. It decides nothing
    #: that is planned, so it makes no plan out of date.
    yield_mpa: Decimal | None = field(default=None, compare=False)
    #: Where the tax on it is another than the buyer's.
    tax_percent: Decimal | None = None

    @property
    def by_length(self) -> bool:
        return self.kind in BY_LENGTH

    @property
    def bore(self) -> Decimal | None:
        """Inside diameter of a tube, mm; None where a size is unknown."""
        if self.width is None or self.thickness is None:
            return None
        return self.width - 2 * self.thickness

    @property
    def butted(self) -> bool:
        """Runs of it are made of any lengths, end to end."""
        return self.kind is Kind.CHANNEL
