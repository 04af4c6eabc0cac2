"""The plan of a site to scale: houses at their places, those without one beside them, and the free way between."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, pi, sin

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.drawing import LETTER, LETTER_BREADTH, Drawing
from farmbuild.common.lengths import length_text
from farmbuild.sites.models import House
from farmbuild.sites.yard.bridge import Neighbours, Point, Rectangle, free_between
from farmbuild.sites.yard.standing import Standing
from farmbuild.sites.yard.strips import draw_house

#: Units of the sheet: the arrow from its foot to its tip, room about words, and between houses that are not placed.
_ARROW, _CLEAR, _BETWEEN = 34.0, 3.0, 10.0
#: Where the words of a dimension may stand, tried in turn: units from the middle of its line, in eight ways.
_REACHES = (0.0, 12.0, 22.0, 34.0, 48.0, 64.0)
_WAYS = 8


@dataclass(frozen=True)
class OnPlan:
    """One house. ``label`` is read out for it; ``placed``: otherwise it lies in the strip below the base line."""

    house: House
    number: int
    rectangle: Rectangle
    standing: Standing
    hoops: int
    label: str
    placed: bool


def box_of(corners: Sequence[Point]) -> tuple[float, float, float, float]:
    """Left, low, right and top."""
    across, up = [x for x, _ in corners], [y for _, y in corners]
    return min(across), min(up), max(across), max(up)


def below_the_base(houses: Sequence[tuple[float, float]], low: float, between: float) -> Iterator[Rectangle]:
    """Houses of those lengths and spans, one under the other from ``low`` down, along the base line."""
    for length, span in houses:
        low -= between + span
        yield Rectangle(0.0, low, length, span)


class SitePlan(Drawing):
    """``bearing`` of its top, None where it is not known; ``movable``: each house can be taken to another place."""

    def __init__(
        self,
        houses: Sequence[OnPlan],
        *,
        title: str,
        words: str,
        units: str,
        stake: str,
        bearing: int | None,
        movable: bool = False,
    ) -> None:
        corners = [(0.0, 0.0), *(corner for each in houses for corner in each.rectangle.corners)]
        left, low, right, top = box_of(corners)
        super().__init__(right - left, top - low, title, words, units=units)
        self._reader, self._movable = units, movable
        self._taken: list[Rectangle] = []
        with self.moved(-left, -low):
            if bearing is not None:
                self._north(right, top, bearing)
            self._base(right, stake)
            for each in houses:
                self._house(each)
            loose = [box_of(each.rectangle.corners) for each in houses if not each.placed]
            if loose:
                end, head = max(box[2] for box in loose), max(box[3] for box in loose) + self.mm(5)
                self.text(end, head, gettext("not placed"), "small", anchor="end")
        self._shift = (-left, -low)
        self._houses = [each.rectangle for each in houses]

    def svg(self) -> SafeString:
        drawn = super().svg()
        return format_html('<div data-units-a-mm="{}">{}</div>', repr(self.scale), drawn)

    def dimensions(self, pairs: Sequence[Neighbours]) -> None:
        """The free way of each pair; words that find no room are left to the list beside the drawing."""
        with self.moved(*self._shift):
            for pair in pairs:
                if pair.gap and pair.distance * self.scale >= 2:
                    self._way(pair)

    # Parts

    def _north(self, right: float, top: float, bearing: int) -> None:
        """An arrow with its letter, over the upper right corner."""
        lean = -bearing * pi / 180
        way, unit = (sin(lean), cos(lean)), self.mm(1)
        reach = _ARROW / 2 * unit
        x, y = right - reach - LETTER * unit, top + (_ARROW / 2 + 2 * LETTER) * unit
        tip, foot = (x + way[0] * reach, y + way[1] * reach), (x - way[0] * reach, y - way[1] * reach)
        side = (way[1] * 5 * unit, -way[0] * 5 * unit)
        back = (tip[0] - way[0] * 12 * unit, tip[1] - way[1] * 12 * unit)
        self.line(*foot, *tip, "seen north-arrow")
        head = [tip, (back[0] + side[0], back[1] + side[1]), (back[0] - side[0], back[1] - side[1])]
        self.polyline(head, "seen fill", closed=True)
        self.text(x + way[0] * (reach + 9 * unit), y + way[1] * (reach + 9 * unit) - 4.5 * unit, "N")

    def _base(self, right: float, stake: str) -> None:
        unit = self.mm(1)
        self.line(0, 0, right, 0, "axis")
        self.line(-5 * unit, 0, 5 * unit, 0, "cut")
        self.line(0, -5 * unit, 0, 5 * unit, "cut")
        self.text(-4 * unit, -(LETTER + 4) * unit, stake, "small", anchor="start")
        self._taken.append(self._words_box(-4 * unit, -(LETTER + 4) * unit, stake, "start"))

    def _house(self, each: OnPlan) -> None:
        place, outer = each.rectangle, self._parts
        self._parts = []
        self.polyline(place.corners, "hit", closed=True)
        with self.turned(place.x, place.y, place.turn):
            draw_house(self, each.house, each.standing, hoops=each.hoops)
            self.circle(0, 0, self.mm(3), "corner")
        self._name(each)
        inner, self._parts = mark_safe("".join(self._parts)), outer
        self._links += 1
        kinds = f"house-plan{'' if each.placed else ' unplaced'}"
        if not self._movable:
            url = each.house.get_absolute_url()
            self._add(format_html('<a class="{}" href="{}" aria-label="{}">{}</a>', kinds, url, each.label, inner))
            return
        self._add(
            format_html(
                '<g class="{} movable" data-house="{}" data-along="{}" data-across="{}" data-high="{}"'
                ' data-name="{}">{}</g>',
                kinds, each.house.pk, place.x, place.y, place.breadth, each.house.name, inner,
            )
        )  # fmt: skip

    def _name(self, each: OnPlan) -> None:
        """Along the ridge where it fits, else its number; hoops are broken for it."""
        place = each.rectangle
        name = f"{each.number} {each.house.name}"
        words = name if len(name) * LETTER_BREADTH + 12 <= place.length * self.scale else str(each.number)
        if place.breadth * self.scale < LETTER + 2:
            words = str(each.number)
        turn = place.turn % 180
        angle = turn - 180 if turn > 90 else turn
        x, y = self._at(*place.middle)
        breadth = len(words) * LETTER_BREADTH
        ems = map(_rounded, (-breadth / 2 / LETTER - 0.25, -0.65, breadth / LETTER + 0.5, 1.3))
        box = format_html('<rect class="gap" x="{}em" y="{}em" width="{}em" height="{}em"/>', *ems)
        place = map(_rounded, (x, y, angle))
        self._add(format_html('<g transform="translate({} {}) rotate({})">{}</g>', *place, box))
        lines, self._segments = self._segments, []
        self._sheet_text(x, y, words, "", "middle", angle, 0.35)
        self._segments = lines

    # Dimensions between houses

    def _way(self, pair: Neighbours) -> None:
        assert pair.gap
        words = length_text(pair.distance, self._reader)
        ends = [pair.gap.middle]
        if pair.gap.facing * self.scale > 4 * LETTER:
            inset = 8 / (pair.gap.facing * self.scale)
            ends += [_between(pair.gap.first, pair.gap.last, share) for share in (inset, 1 - inset, 0.25, 0.75)]
        for a, b in ends:
            if (found := self._room_for(a, b, words)) is None:
                continue
            x, y = found
            middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            if hypot(x - middle[0], y - middle[1]) > self.mm(LETTER):
                self.line(*middle, *self._towards(middle, (x, y)), "thin")
            self._ticked(a, b)
            self.text(x, y - self.mm(0.35 * LETTER), words, "dim")
            self._taken.append(self._words_box(x, y - self.mm(0.35 * LETTER), words, "middle"))
            self._taken.append(_strip(a, b, self.mm(4)))
            return

    def _ticked(self, a: Point, b: Point) -> None:
        """A dimension line with short strokes at its ends, as ``dimension`` draws it."""
        self.line(*a, *b, "thin")
        way = hypot(b[0] - a[0], b[1] - a[1]) / self.mm(3)
        ux, uy = (b[0] - a[0]) / way, (b[1] - a[1]) / way
        for x, y in (a, b):
            self.line(x - ux + uy, y - uy - ux, x + ux - uy, y + uy + ux, "tick")

    def _towards(self, start: Point, words: Point) -> Point:
        """Short of the words."""
        way = hypot(words[0] - start[0], words[1] - start[1])
        share = max(0.0, 1 - self.mm(LETTER) / way)
        return start[0] + (words[0] - start[0]) * share, start[1] + (words[1] - start[1]) * share

    def _room_for(self, a: Point, b: Point, words: str) -> Point | None:
        """The middle of words that lie over no house, no other words and not over the line itself."""
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        base = atan2(b[1] - a[1], b[0] - a[0]) + pi / 2
        line = _strip(a, b, self.mm(2))
        for reach in _REACHES:
            for way in range(_WAYS) if reach else (0,):
                # Across the line first, which is along a walkway.
                lean = base + (way // 2 + 4 * (way % 2)) * pi / 4
                breadth = len(words) * LETTER_BREADTH / 2
                out = self.mm(reach + breadth * abs(cos(lean)) * (reach > 0))
                x, y = middle[0] + cos(lean) * out, middle[1] + sin(lean) * out
                box = self._words_box(x, y - self.mm(0.35 * LETTER), words, "middle")
                if not all(free_between(box, each) for each in (line, *self._houses, *self._taken)):
                    continue
                # What leads to them runs over no house either.
                leader = _strip(middle, (x, y), self.mm(1)) if reach else box
                if all(free_between(leader, each) for each in self._houses):
                    return x, y
        return None

    def _words_box(self, x: float, y: float, words: str, anchor: str) -> Rectangle:
        wide = self.mm(len(words) * LETTER_BREADTH + 2 * _CLEAR)
        left = x - (self.mm(_CLEAR) if anchor == "start" else wide / 2)
        return Rectangle(left, y - self.mm(0.25 * LETTER + _CLEAR), wide, self.mm(LETTER + 2 * _CLEAR))


def _rounded(value: float) -> float:
    return round(value, 2)


def _between(first: tuple[Point, Point], last: tuple[Point, Point], share: float) -> tuple[Point, Point]:
    a, b = (
        (one[0] + (other[0] - one[0]) * share, one[1] + (other[1] - one[1]) * share)
        for one, other in zip(first, last, strict=True)
    )
    return a, b


def _strip(a: Point, b: Point, breadth: float) -> Rectangle:
    """A strip of that breadth about the line between two points."""
    way = hypot(b[0] - a[0], b[1] - a[1])
    across = ((b[1] - a[1]) / way * breadth / 2, -(b[0] - a[0]) / way * breadth / 2)
    return Rectangle(a[0] + across[0], a[1] + across[1], way, breadth, -degrees(atan2(b[1] - a[1], b[0] - a[0])))
