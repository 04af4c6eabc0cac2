"""Scales that a drawing may have, and paper that it may stand on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from django.utils.translation import gettext

from farmbuild.measure import UnitSystem

#: Parts of a foot on the paper that stand for one foot, by what 1 of the paper is then: 3" = 1'-0" is 1:4.
_INCHES = {
    1: "full size", 2: '6" = 1\'', 4: '3" = 1\'', 8: '1-1/2" = 1\'', 12: '1" = 1\'', 16: '3/4" = 1\'', 24: '1/2" = 1\'',
    32: '3/8" = 1\'', 48: '1/4" = 1\'', 64: '3/16" = 1\'', 96: '1/8" = 1\'', 128: '3/32" = 1\'', 192: '1/16" = 1\'',
    240: '1" = 20\'', 360: '1" = 30\'', 480: '1" = 40\'', 600: '1" = 50\'', 1200: '1" = 100\'', 2400: '1" = 200\'',
    4800: '1" = 400\'', 12000: '1" = 1000\'', 24000: '1" = 2000\'', 48000: '1" = 4000\'', 120000: '1" = 10000\'',
}  # fmt: skip
#: Reductions of ISO 5455, and 1:25 and 1:250, which are usual beside them (common practice, no source).
_METRIC = (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000)


def scale_for(per: float, units: UnitSystem | str) -> int:
    """The largest standard scale that is no larger than 1 : ``per``."""
    usual = tuple(_INCHES) if UnitSystem(units) is UnitSystem.IMPERIAL else _METRIC
    return next((scale for scale in usual if scale >= per * (1 - 1e-9)), usual[-1])


def scale_text(scale: int, units: UnitSystem | str) -> str:
    """1:48, and how a foot stands on the paper."""
    if UnitSystem(units) is UnitSystem.IMPERIAL:
        of_a_foot = gettext("full size") if scale == 1 else _INCHES[scale]
        return f"1:{scale} ({of_a_foot})"
    return f"1:{scale}"


class PaperName(StrEnum):
    """As an address says it."""

    ANSI_B = "ansi-b"
    A3 = "a3"


@dataclass(frozen=True)
class Paper:
    """Lying, mm. The frame stands 20 mm in at the left, where sheets are filed, and 10 mm elsewhere (ISO 5457)."""

    name: PaperName
    words: str
    wide: float
    high: float

    left = 20.0
    edge = 10.0
    #: Of the strip along the lower edge of the frame: cautions, stamp, title block.
    strip = 44.0

    @property
    def inside(self) -> tuple[float, float, float, float]:
        """x, y, breadth and height of what may be drawn on, over the strip."""
        return (
            self.left,
            self.edge + self.strip,
            self.wide - self.left - self.edge,
            self.high - 2 * self.edge - self.strip,
        )


PAPERS = {
    PaperName.ANSI_B: Paper(PaperName.ANSI_B, "ANSI B (17 x 11 in)", 431.8, 279.4),
    PaperName.A3: Paper(PaperName.A3, "A3 (420 x 297 mm)", 420.0, 297.0),
}


def paper_for(units: UnitSystem | str) -> Paper:
    """Where nobody chooses."""
    return PAPERS[PaperName.ANSI_B if UnitSystem(units) is UnitSystem.IMPERIAL else PaperName.A3]


def paper_named(name: str, units: UnitSystem | str) -> Paper:
    """Any other name is nobody's choice."""
    return next((paper for paper in PAPERS.values() if paper.name == name), paper_for(units))
