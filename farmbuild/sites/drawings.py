"""Scale drawings of one house: section, end walls, side view and plan. Every size comes from its shape."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString

from farmbuild.common.drawing import LETTER, LETTER_BREADTH, TALLEST, Drawing
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.measure import count_noun
from farmbuild.sites.bridge import BY_NAME, DrawnHouse, EndWall, HouseShape

#: Hoops drawn at most: more would run into one black bar.
_MAX_HOOPS = 240
#: A person to see the size by: 5 ft 8 in.
PERSON = Decimal("1727.2")
#: Fields of the form that the hoop, and that the film at the sides, show.
_POSTS = ("post_material", "hoop_over_post", "post_stop_material")
_PURLINS = tuple(name for name in BY_NAME if BY_NAME[name].section == "Purlins")
_FILM = tuple(name for name in BY_NAME if BY_NAME[name].section in ("Film", "Sides"))
_DOORS = tuple(name for name in BY_NAME if BY_NAME[name].section == "End walls and doors")


@dataclass(frozen=True)
class HouseDrawing:
    """Words come in the units of the reader. ``tallest``: as of ``Drawing``."""

    house: DrawnHouse
    name: str
    units: str
    tallest: float = TALLEST

    @property
    def shape(self) -> HouseShape:
        return self.house.shape

    def _say(self, length: Decimal | float) -> str:
        return length_text(length, self.units)

    def _both(self, length: Decimal | float) -> str:
        return length_pair_text(length, self.units)

    def _fit(self, drawing: Drawing, room: Decimal | float, length: Decimal | float, name: str = "") -> str:
        """What fits a dimension line ``room`` mm long, best first: name and both units; the bare length.

        The two units may stand over and under the line.
        """
        own, two = self._say(length), self._both(length)
        wanted = [f"{name} {two}".strip(), two, f"{name} {own}".strip()]
        units = float(room) * drawing.scale - 4
        for words in wanted:
            if max(len(part) for part in words.split(" · ")) * LETTER_BREADTH <= units:
                return words
        return own

    # Section

    def section(self) -> SafeString:
        """Across the house: hoop, posts above and in the ground, purlins, boards."""
        shape = self.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        words = (
            f"Posts {self._say(shape.span)} apart, {self._say(shape.post_depth)} in the ground and"
            f" {self._say(shape.post_above)} above it. {self._socket()}The hoop rises {self._say(shape.rise)} from its"
            f" ends to a ridge {self._say(shape.ridge_height)} above the ground."
        )
        if self.house.sleeves:
            words += f" Its sticks butt in {count_noun(len(self.house.sleeves), 'sleeve')}."
        if self.house.sides:
            words += f" Sides: {self.house.sides.words}."
        drawing = Drawing(span, ridge, f"{self.name}: section", words, tallest=self.tallest)
        self._frame(drawing)
        for sleeve in self.house.sleeves:
            points = [(span / 2 + x, height) for x, height in sleeve.points]
            drawing.polyline(points, "mark")
            x, height = points[len(points) // 2]
            drawing.text(x, height - drawing.mm(16), "sleeve", "small")
        with drawing.of(*_PURLINS):
            for purlin in self.house.purlins:
                drawing.circle(span / 2 + float(purlin.x), float(purlin.height), drawing.mm(3), "mark")
        for board in self.house.boards:
            thick, bottom, high = float(board.breadth), float(board.bottom), float(board.height)
            with drawing.of(*_of_boards(board.name)):
                drawing.rect(-thick, bottom, thick, high, "fill")
                drawing.rect(span, bottom, thick, high, "fill")
        self._sides(drawing)
        self._section_dimensions(drawing)
        if any(board.name == "hip boards" for board in self.house.boards):
            with drawing.of(*_of_boards("hip boards"), quiet=True):
                drawing.text(drawing.mm(10), float(shape.post_above) + drawing.mm(6), "hip board", anchor="start")
        return drawing.svg()

    def beside_a_person(self, scale: float) -> SafeString:
        """The section with its span and ridge alone, at a scale that several houses share."""
        shape = self.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        words = (
            f"Posts {self._say(shape.span)} apart, ridge {self._say(shape.ridge_height)} above the ground, beside a"
            f" person of {self._say(PERSON)}."
        )
        drawing = Drawing(span, ridge, f"{self.name}: section", words, scale=scale)
        self._frame(drawing)
        drawing.dimension(
            0, -float(shape.post_depth), span, -float(shape.post_depth), self._say(shape.span), -drawing.step
        )
        drawing.dimension(0, 0, 0, ridge, self._say(shape.ridge_height), drawing.step)
        _person(drawing, span + 0.3 * float(PERSON))
        return drawing.svg()

    def _socket(self) -> str:
        if not self.shape.socket_depth:
            return ""
        way = "over" if self.house.over_post else "in"
        return f"The hoop stands {self._say(self.shape.socket_depth)} {way} them. "

    def _frame(self, drawing: Drawing) -> None:
        """Ground line, posts and hoop."""
        shape = self.shape
        span, above, depth = float(shape.span), float(shape.post_above), float(shape.post_depth)
        foot = float(shape.foot_height)
        edge = span * 0.06
        drawing.line(-edge, 0, span + edge, 0)
        if self.house.post_outside is not None:
            pipe = float(self.house.post_outside)
            with drawing.of(*_POSTS):
                for x in (0.0, span):
                    drawing.rect(x - pipe / 2, -depth, pipe, above + depth, "fill")
        with drawing.of("recipe"):
            drawing.polyline([(span / 2 + float(x), foot + float(y)) for x, y in shape.arc.outline()])
        if foot < above:
            bar = drawing.mm(3)
            with drawing.of("post_socket_depth"):
                for x in (0.0, span):
                    drawing.line(x - bar, foot, x + bar, foot)

    def _sides(self, drawing: Drawing) -> None:
        """Film from the ends of the hoop down, outside of posts and boards, and the curtain with its pipe."""
        if (side := self.house.sides) is None:
            return
        span, foot = float(self.shape.span), float(self.shape.foot_height)
        out = max([float(self.house.post_outside or 0) / 2, *(float(board.breadth) for board in self.house.boards)])
        out += drawing.mm(1.5)
        with drawing.of(*_FILM):
            for x in (-out, span + out):
                drawing.line(x, foot, x, float(side.film_bottom), "thin")
                if side.curtain_top is not None:
                    drawing.line(x, float(side.curtain_top), x, 0, "thin")
                    drawing.circle(x, drawing.mm(2), drawing.mm(2), "mark")
        with drawing.of(*_FILM, quiet=True):
            drawing.text(drawing.mm(10), drawing.mm(6), side.words, anchor="start")

    def _section_dimensions(self, drawing: Drawing) -> None:
        shape = self.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        above, depth, foot = float(shape.post_above), float(shape.post_depth), float(shape.foot_height)
        drawing.line(0, ridge, span, ridge, "thin dash")
        label = self._fit(drawing, span, shape.span, "post span")
        with drawing.of("post_span"):
            drawing.dimension(0, -depth, span, -depth, label, -drawing.step)
        label = self._fit(drawing, ridge, shape.ridge_height, "ridge")
        drawing.dimension(0, 0, 0, ridge, label, drawing.step)
        label = self._fit(drawing, shape.rise, shape.rise, "rise")
        with drawing.of("recipe"):
            drawing.dimension(span, foot, span, ridge, label, -drawing.step)
        # Inside the house, where there is room for words beside short lines.
        if above:
            label = self._both(above) if above * drawing.scale > 2 * LETTER + 4 else self._say(above)
            with drawing.of("post_length", quiet=True):
                drawing.dimension(span, 0, span, above, f"above {label}", 0.6 * drawing.step)
        if depth:
            with drawing.of("post_depth", quiet=True):
                drawing.dimension(0, 0, 0, -depth, f"in ground {self._both(depth)}", 0.6 * drawing.step)

    # End walls

    def end(self, wall: EndWall) -> SafeString:
        """One framed end wall seen from outside."""
        shape, doors = self.shape, wall.doors
        span, ridge = float(shape.span), float(shape.ridge_height)
        middle = span / 2
        words = f"{len(wall.studs)} studs, {len(wall.door_posts)} door posts, {len(wall.short_studs)} short studs"
        if doors.count:
            words += (
                f"; {doors.count} x door opening {self._say(doors.width)} wide and {self._say(doors.height)} high, each"
                f" leaf {self._say(doors.leaf_width)} x {self._say(doors.leaf_height)}"
            )
        drawing = Drawing(span, ridge, f"{self.name}: {wall.name} end", words + ".", tallest=self.tallest)
        self._frame(drawing)
        with drawing.of(*_DOORS):
            self._members(drawing, wall)
        label = self._fit(drawing, ridge, shape.ridge_height, "ridge")
        drawing.dimension(0, 0, 0, ridge, label, drawing.step)
        if doors.count:
            half, high = float(wall.opening) / 2, float(doors.height)
            side, wide = middle - half, float(doors.width)
            label = self._fit(drawing, doors.width, doors.width, "door")
            with drawing.of(f"{wall.name}_door_width", f"{wall.name}_door_count"):
                drawing.dimension(side, 0, side + wide, 0, label, -drawing.step)
            label = self._fit(drawing, doors.height, doors.height, "door")
            with drawing.of(f"{wall.name}_door_height"):
                drawing.dimension(span, high, span, 0, label, drawing.step)
            drawing.line(middle + half, high, span, high, "thin dash")
        return drawing.svg()

    def _members(self, drawing: Drawing, wall: EndWall) -> None:
        """Sill, header, studs and doors."""
        doors, span, face = wall.doors, float(self.shape.span), float(wall.face)
        middle = span / 2
        opening, high = float(wall.opening), float(doors.height)
        half, foot, gap = opening / 2, float(wall.foot), float(doors.clearance)
        if doors.count:
            for left in (foot, middle + half + face):
                drawing.rect(left, 0, middle - half - face - foot, face, "fill")
            drawing.rect(middle - half, high, opening, face, "fill")
            for number in range(doors.count):
                left = middle - half + number * float(doors.width) + gap
                drawing.rect(left, gap, float(doors.leaf_width), float(doors.leaf_height), "mark")
        else:
            drawing.rect(foot, 0, span - 2 * foot, face, "fill")
        for members, bottom in ((wall.studs, face), (wall.door_posts, 0.0), (wall.short_studs, high + face)):
            for x, length in members:
                drawing.rect(middle + float(x) - face / 2, bottom, face, float(length), "fill")

    # Side view

    def _shown_hoops(self) -> tuple[list[float], str]:
        places = [float(place) for place in self.shape.hoop_positions]
        if len(places) <= _MAX_HOOPS:
            return places, ""
        every = -(-len(places) // _MAX_HOOPS)
        kept = places[::every]
        if kept[-1] != places[-1]:
            kept.append(places[-1])
        return kept, f" One hoop in {every} is drawn."

    def side(self) -> SafeString:
        """Along the house: hoops where they stand, purlins, boards."""
        shape = self.shape
        length, ridge = float(shape.length), float(shape.ridge_height)
        above, depth = float(shape.post_above), float(shape.post_depth)
        hoops, note = self._shown_hoops()
        words = (
            f"{shape.hoops} hoops {self._say(shape.spacing)} apart make {self._say(shape.length)}; ridge"
            f" {self._say(shape.ridge_height)} above the ground.{note}"
        )
        drawing = Drawing(length, ridge, f"{self.name}: side view", words, tallest=self.tallest)
        edge = length * 0.03
        drawing.line(-edge, 0, length + edge, 0)
        with drawing.of("spacing_wanted"):
            for x in hoops:
                drawing.line(x, 0, x, ridge)
                if depth:
                    drawing.line(x, -depth, x, 0, "thin dash")
        for height in sorted({float(purlin.height) for purlin in self.house.purlins} | {ridge}):
            drawing.line(0, height, length, height, "ink" if height == ridge else "thin")
        for board in self.house.boards:
            drawing.rect(0, float(board.bottom), length, float(board.height), "fill")
        if above:
            drawing.line(0, above, length, above, "thin")
        with drawing.of("length"):
            drawing.dimension(0, -depth, length, -depth, f"length {self._both(shape.length)}", -drawing.step)
        with drawing.of("spacing_wanted"):
            drawing.dimension(0, ridge, hoops[1], ridge, f"hoops apart {self._both(shape.spacing)}", drawing.step)
        height = self._fit(drawing, ridge, shape.ridge_height)
        if len(height) * LETTER_BREADTH < ridge * drawing.scale:
            drawing.dimension(0, 0, 0, ridge, height, drawing.step)
        return drawing.svg()

    # Plan

    def plan(self) -> SafeString:
        """From above: hoops, purlins and doors."""
        shape = self.shape
        length, span = float(shape.length), float(shape.span)
        hoops, note = self._shown_hoops()
        words = (
            f"{self._say(shape.span)} across and {self._say(shape.length)} along, {shape.hoops} hoops"
            f" {self._say(shape.spacing)} apart. The front end is on the left.{note}"
        )
        drawing = Drawing(length, span, f"{self.name}: plan", words)
        drawing.rect(0, 0, length, span)
        for x in hoops:
            drawing.line(x, 0, x, span, "thin")
        for purlin in self.house.purlins:
            y = span / 2 + float(purlin.x)
            drawing.line(0, y, length, y, "dash")
        for x, doors in zip((0.0, length), self.house.doors, strict=True):
            half = float(doors.opening) / 2
            if half:
                bar = drawing.mm(4)
                drawing.rect(x - bar / 2, span / 2 - half, bar, 2 * half, "mark")
        drawing.text(-drawing.mm(8), span / 2, "front", anchor="end")
        drawing.dimension(0, 0, length, 0, f"length {self._both(shape.length)}", -drawing.step)
        drawing.dimension(length, span, length, 0, self._fit(drawing, span, shape.span), drawing.step)
        return drawing.svg()


def _of_boards(name: str) -> tuple[str, ...]:
    """Fields of hip boards, or of base boards."""
    head = name.removesuffix("s").replace(" ", "_")
    return tuple(field for field in BY_NAME if field.startswith(head))


def _person(drawing: Drawing, x: float) -> None:
    """Standing at ``x``, in thin lines."""
    tall = float(PERSON)
    head, hip, shoulder = 0.065 * tall, 0.48 * tall, 0.81 * tall
    drawing.circle(x, tall - head, head, "thin")
    drawing.line(x, tall - 2 * head, x, hip, "thin")
    for side in (-1, 1):
        drawing.line(x, hip, x + side * 0.08 * tall, 0, "thin")
        drawing.line(x, shoulder, x + side * 0.11 * tall, 0.45 * tall, "thin")
