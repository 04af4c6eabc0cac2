"""What the page of hoops for a span shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.common.speaking import said_count
from farmbuild.hoops.for_span.bridge import HoopWay

#: Ways listed, and of them drawn.
MOST, DRAWN = 12, 6
#: Of the drawing, one unit a unit of the sheet.
_WIDE, _HIGH, _GAP = 90.0, 62.0, 8.0
_IN_A_ROW = 3
_POINTS = 40


@dataclass(frozen=True)
class WayRow:
    """``to_limit``: how much of what it springs back from it is sprung in, in words."""

    number: int
    sticks: str
    bender: str
    tube: str
    length: Decimal
    free_span: Decimal
    rise: Decimal
    inward: Decimal
    to_limit: str
    price: Decimal | None


@dataclass(frozen=True)
class OtherBender:
    """A bender of ``radius`` would make the hoop of these sticks, for ``price``; ``saved`` a hoop and in ``hoops`` of
    ``houses``. ``saved`` None: no bender makes the span now."""

    radius: Decimal
    sticks: str
    tube: str
    length: Decimal
    price: Decimal
    saved: Decimal | None
    houses: int
    hoops: int

    @property
    def in_all(self) -> Decimal:
        return (self.saved or Decimal(0)) * self.hoops


@dataclass(frozen=True)
class WaysShown:
    rows: list[WayRow]
    picture: SafeString | str
    more: int
    #: What a bender that is not there would do.
    other: OtherBender | None = None

    @property
    def best(self) -> WayRow:
        return self.rows[0]


def ways_shown(
    ways: Sequence[HoopWay], names: dict[str, str], units: str, *, ideal: HoopWay | None, wanted: tuple[int, int]
) -> WaysShown:
    """``names`` of tubes by code; ``ideal``: the cheapest on any radius; ``wanted``: houses and hoops of that span."""
    rows = [_row(number, way, names, units) for number, way in enumerate(ways[:MOST], 1)]
    picture = _picture(ways[:DRAWN], units) if ways else ""
    return WaysShown(rows, picture, max(0, len(ways) - MOST), _other(ways, names, ideal, wanted))


def _other(
    ways: Sequence[HoopWay], names: dict[str, str], ideal: HoopWay | None, wanted: tuple[int, int]
) -> OtherBender | None:
    """None where one's own do as well."""
    own = ways[0].price if ways else None
    if ideal is None or ideal.price is None or (own is not None and ideal.price >= own) or (ways and own is None):
        return None
    return OtherBender(
        radius=to_decimal(ideal.hoop.radius),
        sticks=said_count(ideal.sticks, "stick"),
        tube=names[ideal.tube],
        length=ideal.length,
        price=ideal.price,
        saved=None if own is None else own - ideal.price,
        houses=wanted[0],
        hoops=wanted[1],
    )


def _row(number: int, way: HoopWay, names: dict[str, str], units: str) -> WayRow:
    if way.limit is None:
        to_limit = gettext("how far it springs back is not known: its yield or sizes are not typed")
    else:
        to_limit = gettext("it springs back from %(limit)s at most") % {"limit": length_text(way.limit, units)}
    return WayRow(
        number=number,
        sticks=said_count(way.sticks, "stick"),
        bender=way.bender,
        tube=names[way.tube],
        length=way.length,
        free_span=to_decimal(way.hoop.span),
        rise=way.rise,
        inward=way.inward,
        to_limit=to_limit,
        price=way.price,
    )


def _picture(ways: Sequence[HoopWay], units: str) -> SafeString:
    """Free hoops to one scale, numbered as in the list."""
    lines = -(-len(ways) // _IN_A_ROW)
    wide = _WIDE * min(len(ways), _IN_A_ROW)
    high = _HIGH * lines
    told = "; ".join(
        gettext("%(number)s: %(span)s wide, %(rise)s high")
        % {"number": number, "span": length_text(way.hoop.span, units), "rise": length_text(way.rise, units)}
        for number, way in enumerate(ways, 1)
    )
    drawing = Drawing(wide, high, gettext("The free hoops to one scale"), told, tallest=high)
    scale = min((_WIDE - _GAP) / max(w.hoop.span for w in ways), (_HIGH - 20) / max(w.hoop.rise for w in ways))
    for n, way in enumerate(ways):
        left = _WIDE * (n % _IN_A_ROW) + _WIDE / 2
        base = high - _HIGH * (n // _IN_A_ROW + 1) + 12
        points = [(left + x * scale, base + y * scale) for x, y in way.hoop.outline(_POINTS)]
        drawing.polyline(points, "ink")
        drawing.text(left, base - 10, str(n + 1))
    return drawing.svg()
