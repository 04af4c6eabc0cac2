"""A small drawing of a house for each group of its parts, with that group heavy and the rest thin."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing
from farmbuild.common.remembered import drawn_once
from farmbuild.common.speaking import said
from farmbuild.sites.bridge import DrawnHouse

_THIN, _LIT = "thin", "lit"
#: Groups that a drawing shows; rows of its own may be anything.
DRAWN = ("hoops", "posts", "purlins", "ends", "film", "fixings")


@dataclass(frozen=True)
class LitDrawing:
    """One group of parts, by its key, in a section of the house, or in its end wall."""

    house: DrawnHouse
    name: str
    key: str
    what: str

    @drawn_once
    def svg(self) -> SafeString:
        shape = self.house.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        parts = said(self.what).lower()
        words = (
            gettext("End wall of the house, not for measuring. Drawn heavy: %(parts)s.")
            if self.key == "ends"
            else gettext("Section of the house, not for measuring. Drawn heavy: %(parts)s.")
        ) % {"parts": parts}
        drawing = Drawing(span, ridge, f"{self.name}: {parts}", words, tallest=240.0)
        edge = span * 0.06
        drawing.line(-edge, 0, span + edge, 0, _THIN)
        self._film(drawing)
        self._posts(drawing)
        drawing.polyline(self._arc(), self._css("hoops"))
        if self.key == "ends" and self.house.end_walls:
            self._end(drawing)
        else:
            self._along(drawing)
        if self.key == "fixings":
            self._joints(drawing)
        return drawing.svg()

    def _css(self, key: str) -> str:
        return _LIT if key == self.key else _THIN

    def _arc(self, out: float = 0.0) -> list[tuple[float, float]]:
        """The hoop, or what lies ``out`` over it."""
        shape = self.house.shape
        middle, foot = float(shape.span) / 2, float(shape.foot_height)
        grown = 1 + 2 * out / float(shape.span)
        return [(middle + float(x) * grown, foot + float(y) * grown) for x, y in shape.arc.outline()]

    def _posts(self, drawing: Drawing) -> None:
        shape = self.house.shape
        if self.house.post_outside is None:
            return
        for x in (0.0, float(shape.span)):
            drawing.line(x, -float(shape.post_depth), x, float(shape.post_above), self._css("posts"))

    def _film(self, drawing: Drawing) -> None:
        """Over hoop and sides."""
        if self.key != "film" or self.house.sides is None:
            return
        arc = self._arc(drawing.mm(7))
        bottom = max(float(self.house.sides.film_bottom), 0.0)
        drawing.polyline([(arc[0][0], bottom), *arc, (arc[-1][0], bottom)], _LIT)

    def _along(self, drawing: Drawing) -> None:
        """What runs along the house, seen from its end."""
        middle, span, css = float(self.house.shape.span) / 2, float(self.house.shape.span), self._css("purlins")
        for purlin in self.house.purlins:
            drawing.circle(middle + float(purlin.x), float(purlin.height), drawing.mm(4), css)
        for board in self.house.boards:
            thick = max(float(board.breadth), drawing.mm(5))
            for x in (-thick, span):
                drawing.rect(x, float(board.bottom), thick, float(board.height), css)

    def _end(self, drawing: Drawing) -> None:
        """Studs, posts of the doors and the leaves of the front."""
        wall, middle = self.house.end_walls[0], float(self.house.shape.span) / 2
        doors, opening, foot = wall.doors, float(wall.opening), float(wall.foot)
        high, below = float(doors.height), float(wall.face)
        drawing.line(foot, below / 2, 2 * middle - foot, below / 2, _LIT)
        if doors.count:
            left, wide = middle - opening / 2, float(doors.width)
            drawing.line(left, high, left + opening, high, _LIT)
            for number in range(doors.count):
                drawing.rect(left + number * wide, 0, wide, high, _LIT)
        for members, bottom in ((wall.studs, below), (wall.door_posts, 0.0), (wall.short_studs, high)):
            for x, length in members:
                drawing.line(middle + float(x), bottom, middle + float(x), bottom + float(length), _LIT)

    def _joints(self, drawing: Drawing) -> None:
        """Where parts meet."""
        shape = self.house.shape
        span, foot = float(shape.span), float(shape.foot_height)
        places = [(0.0, foot), (span, foot)]
        places += [(span / 2 + float(purlin.x), float(purlin.height)) for purlin in self.house.purlins]
        places += [(x, float(board.bottom + board.height / 2)) for board in self.house.boards for x in (0.0, span)]
        for x, y in places:
            drawing.circle(x, y, drawing.mm(6), _LIT)
