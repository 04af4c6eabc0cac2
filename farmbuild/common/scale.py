"""Scales of drawings: the ratio that paper is given and the bar with it."""

from __future__ import annotations

from dataclasses import dataclass

from farmbuild.measure import UnitSystem

#: Ratios by the reader's units, in order. Metric: 1, 2 and 5 times tens (ISO 5455). Imperial: inches and their parts to
#: the foot. Those between: common practice, no source.
RATIOS = {
    UnitSystem.METRIC: (1, 2, 5, 10, 15, 20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000),
    UnitSystem.IMPERIAL: (1, 2, 4, 8, 12, 16, 24, 32, 48, 64, 96, 120, 128, 192, 240, 360, 480, 600, 768),
}
#: Lengths of bars by the reader's units, mm, in order.
_INCH, _FOOT = 25.4, 304.8
BARS = {
    UnitSystem.METRIC: (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000, 100000),
    UnitSystem.IMPERIAL: (
        *(_INCH * n for n in (0.25, 0.5, 1, 2, 4, 6)),
        *(_FOOT * n for n in (1, 2, 4, 10, 20, 50, 100, 200)),
    ),
}
#: Units of the sheet that a bar may be long.
LONGEST_BAR = 110.0
#: Letters on paper, mm: 8 points.
_LETTER_ON_PAPER = 2.82


@dataclass(frozen=True)
class OnPaper:
    """How a drawing is printed: ``ratio`` to 1, ``width`` in mm, ``letter`` in units of the sheet."""

    ratio: int
    width: float
    letter: float


def on_paper(
    wide: float, high: float, scale: float, units: UnitSystem, room: tuple[float, float], most: float
) -> OnPaper:
    """The largest usual ratio at which the sheet, ``wide`` by ``high`` units of ``1 / scale`` mm, fits the room.

    ``most``: the letters are no larger, in units of the sheet. Beyond the last ratio it is the next whole hundred.
    """
    least = max(wide / room[0], high / room[1]) / scale
    ratio = next((ratio for ratio in RATIOS[units] if ratio >= least), -(-int(least + 1) // 100) * 100)
    width = wide / scale / ratio
    return OnPaper(ratio, width, min(most, _LETTER_ON_PAPER * wide / width))


def bar_length(scale: float, units: UnitSystem) -> float:
    """mm of the longest bar with room; the shortest there is where none has."""
    lengths = BARS[units]
    return next((length for length in reversed(lengths) if length * scale <= LONGEST_BAR), lengths[0])
