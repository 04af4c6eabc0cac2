"""Scale drawings of one house: section, end walls, side view and plan. Every size comes from its shape."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TypedDict

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy, pgettext

from farmbuild.common.drawing import (
    LETTER,
    LETTER_BREADTH,
    MARGIN,
    PAPER,
    PERSON,
    SHEET_WIDTH,
    TALLEST,
    Drawing,
    as_wide,
)
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.remembered import drawn_once
from farmbuild.common.speaking import said, said_count
from farmbuild.sites.bridge import BY_NAME, DrawnHouse, EndWall, HouseShape

#: Hoops drawn at most: more would run into one black bar.
_MAX_HOOPS = 240
#: Room on paper for one of several, mm.
_AMONG = (84.0, 84.0)
#: Between the posts of the side view and the plan under it: the line of the length and its words.
_BETWEEN = 48.0
#: Units on the sheet for the length of a house.
ALONG = SHEET_WIDTH - 2 * MARGIN
#: Fields of the form that the hoop, and that the film at the sides, show.
_POSTS = ("post_material", "hoop_over_post", "post_stop_material")
_PURLINS = tuple(name for name in BY_NAME if BY_NAME[name].section == "Purlins")
_FILM = tuple(name for name in BY_NAME if BY_NAME[name].section in ("Film", "Sides"))
_DOORS = tuple(name for name in BY_NAME if BY_NAME[name].section == "End walls and doors")


#: Before the key of a figure: the anchor of its working.
WORKING = "working-"


#: By the end, as it is called in a heading and in the name of a drawing.
_END_NAMES = {
    "front": (gettext_lazy("The front end"), gettext_lazy("front end")),
    "back": (gettext_lazy("The back end"), gettext_lazy("back end")),
}


class _Led(TypedDict, total=False):
    href: str
    label: str


@dataclass(frozen=True)
class HouseDrawing:
    """Words come in the units of the reader. ``tallest``: as of ``Drawing``."""

    house: DrawnHouse
    name: str
    units: str
    tallest: float = TALLEST
    #: With scale, bar and person; a small one beside a form has room for none of them.
    whole: bool = True
    #: Room on paper, mm; None for a small one in a text, of which no scale is said.
    paper: tuple[float, float] | None = PAPER
    #: Of which figures the working stands on the page: their dimensions lead there.
    workings: frozenset[str] = frozenset()

    @property
    def shape(self) -> HouseShape:
        return self.house.shape

    def _say(self, length: Decimal | float) -> str:
        return length_text(length, self.units)

    def _both(self, length: Decimal | float) -> str:
        return length_pair_text(length, self.units)

    def _drawing(self, width: float, height: float, name: str, words: str, scale: float | None = None) -> Drawing:
        units = self.units if self.whole and self.paper else ""
        title = f"{self.name}: {name}"
        return Drawing(
            width, height, title, words, tallest=self.tallest, units=units, paper=self.paper or PAPER, scale=scale
        )

    def _worked(self, key: str, what: str) -> _Led:
        """Of a dimension: where its working stands."""
        if key not in self.workings:
            return {}
        return {"href": f"#{WORKING}{key}", "label": gettext("%(what)s: how it was worked out") % {"what": what}}

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

    @drawn_once
    def across(self) -> tuple[SafeString, tuple[tuple[str, SafeString], ...]]:
        """The section, and what each end is called with its drawing, all equally wide; equal ends are drawn once."""
        walls = self.house.end_walls
        if len(walls) == 2 and replace(walls[0].doors, end="") == replace(walls[1].doors, end=""):
            named = [(gettext("Both ends"), walls[0])]
        else:
            named = [(str(_END_NAMES[wall.name][0]), wall) for wall in walls]
        section, ends = self._section(), [self._end(wall, name) for name, wall in named]
        as_wide(section, *ends)
        return section.svg(), tuple((name, end.svg()) for (name, _), end in zip(named, ends, strict=True))

    @drawn_once
    def section(self) -> SafeString:
        """Across the house: hoop, posts above and in the ground, purlins, boards."""
        return self._section().svg()

    def _section(self) -> Drawing:
        shape = self.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        words = gettext(
            "Posts %(span)s apart, %(post_depth)s in the ground and %(post_above)s above it. "
            "%(socket)sThe hoop rises %(rise)s from its ends to a ridge %(ridge_height)s above the "
            "ground."
        ) % {
            "span": self._say(shape.span),
            "post_depth": self._say(shape.post_depth),
            "post_above": self._say(shape.post_above),
            "socket": self._socket(),
            "rise": self._say(shape.rise),
            "ridge_height": self._say(shape.ridge_height),
        }
        if self.house.sleeves:
            words += gettext(" Its sticks butt in %(sleeves)s.") % {
                "sleeves": said_count(len(self.house.sleeves), "sleeve")
            }
        if self.house.sides:
            words += gettext(" Sides: %(words)s.") % {"words": said(self.house.sides.words)}
        if self.whole:
            words += gettext(" A person of %(person)s stands in it.") % {"person": self._say(PERSON)}
        drawing = self._drawing(span, ridge, gettext("section"), words)
        self._frame(drawing)
        if self.whole:
            drawing.person(self._person_at(drawing))
        for sleeve in self.house.sleeves:
            points = [(span / 2 + x, height) for x, height in sleeve.points]
            drawing.polyline(points, "mark")
            x, height = points[len(points) // 2]
            drawing.text(x, height - drawing.mm(16), gettext("sleeve"), "small")
        with drawing.of(*_PURLINS):
            for purlin in self.house.purlins:
                drawing.circle(span / 2 + float(purlin.x), float(purlin.height), drawing.mm(3), "mark")
        for board in self.house.boards:
            thick, bottom, high = float(board.breadth), float(board.bottom), float(board.height)
            with drawing.of(*_of_boards(board.name)):
                drawing.bar(-thick, bottom, thick, high)
                drawing.bar(span, bottom, thick, high)
        self._sides(drawing)
        self._section_dimensions(drawing)
        if any(board.name == "hip boards" for board in self.house.boards):
            with drawing.of(*_of_boards("hip boards"), quiet=True):
                drawing.text(
                    drawing.mm(10), float(shape.post_above) + drawing.mm(6), gettext("hip board"), anchor="start"
                )
        return drawing

    @drawn_once
    def beside_a_person(self, scale: float) -> SafeString:
        """The section with its span and ridge alone, at a scale that several houses share."""
        shape = self.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        words = gettext(
            "Posts %(span)s apart, ridge %(ridge_height)s above the ground, beside a person of %(person)s."
        ) % {"span": self._say(shape.span), "ridge_height": self._say(shape.ridge_height), "person": self._say(PERSON)}
        drawing = Drawing(
            span, ridge, f"{self.name}: {gettext('section')}", words, scale=scale, units=self.units, paper=_AMONG
        )
        self._frame(drawing)
        drawing.dimension(
            0, -float(shape.post_depth), span, -float(shape.post_depth), self._say(shape.span), -drawing.step
        )
        drawing.dimension(0, 0, 0, ridge, self._say(shape.ridge_height), drawing.step)
        drawing.person(span + 0.3 * PERSON)
        return drawing.svg()

    def _socket(self) -> str:
        if not self.shape.socket_depth:
            return ""
        depth = {"depth": self._say(self.shape.socket_depth)}
        if self.house.over_post:
            return gettext("The hoop stands %(depth)s over them. ") % depth
        return gettext("The hoop stands %(depth)s in them. ") % depth

    def _frame(self, drawing: Drawing) -> None:
        """Ground line, posts and hoop."""
        shape = self.shape
        span, above, depth = float(shape.span), float(shape.post_above), float(shape.post_depth)
        foot = float(shape.foot_height)
        edge = span * 0.06
        drawing.ground(-edge, span + edge)
        if self.house.post_outside is not None:
            pipe = float(self.house.post_outside)
            with drawing.of(*_POSTS):
                for x in (0.0, span):
                    drawing.bar(x - pipe / 2, -depth, pipe, above + depth)
        with drawing.of("recipe"):
            drawing.polyline([(span / 2 + float(x), foot + float(y)) for x, y in shape.arc.outline()])
        if foot < above:
            bar = drawing.mm(3)
            with drawing.of("post_socket_depth"):
                for x in (0.0, span):
                    drawing.line(x - bar, foot, x + bar, foot)

    def _above_room(self) -> float:
        """Units at the right, inside, that the height of the posts and its words take."""
        return len(gettext("above %(label)s") % {"label": self._say(self.shape.post_above)}) * LETTER_BREADTH + 22

    def _person_at(self, drawing: Drawing) -> float:
        """Beside words at the left and clear of those at the right, and of a joint at the crown."""
        span = float(self.shape.span)
        return min(0.57 * span, span - drawing.mm(self._above_room() + 4) - 0.11 * PERSON)

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
        # Under a smaller one, with dimensions that lead somewhere, the page says it.
        if not self.workings:
            with drawing.of(*_FILM, quiet=True):
                drawing.text(drawing.mm(10), drawing.mm(6), said(side.words), anchor="start")

    def _section_dimensions(self, drawing: Drawing) -> None:
        shape = self.shape
        span, ridge = float(shape.span), float(shape.ridge_height)
        above, depth, foot = float(shape.post_above), float(shape.post_depth), float(shape.foot_height)
        drawing.line(0, ridge, span, ridge, "thin")
        label = self._fit(drawing, span, shape.span, pgettext("on a drawing", "post span"))
        # What stands under the span goes lower where the span takes two lines.
        lower = drawing.mm(LETTER * 1.1) if len(label) * LETTER_BREADTH > span * drawing.scale - 4 else 0
        with drawing.of("post_span"):
            drawing.dimension(0, -depth, span, -depth, label, -drawing.step)
        label = self._fit(drawing, ridge, shape.ridge_height, gettext("ridge"))
        drawing.dimension(0, 0, 0, ridge, label, drawing.step, **self._worked("ridge", label))
        label = self._fit(drawing, shape.rise, shape.rise, gettext("rise"))
        with drawing.of("recipe"):
            drawing.dimension(span, foot, span, ridge, label, -drawing.step, **self._worked("rise", label))
        if foot and "foot" in self.workings:
            label = self._fit(drawing, foot, foot, gettext("ends"))
            drawing.dimension(
                span,
                0,
                span,
                foot,
                label,
                -drawing.step,
                **self._worked("foot", gettext("ends of hoop %(label)s") % {"label": label}),
            )
        self._sprung(drawing, -depth - drawing.step - lower)
        # Inside the house, where there is room for words beside short lines.
        if above:
            label = self._both(above) if above * drawing.scale > 2 * LETTER + 4 else self._say(above)
            with drawing.of("post_length", quiet=True):
                drawing.dimension(
                    span, 0, span, above, gettext("above %(label)s") % {"label": label}, 0.6 * drawing.step
                )
        if depth:
            label = self._both(depth) if depth * drawing.scale > 3 * LETTER else self._say(depth)
            with drawing.of("post_depth", quiet=True):
                drawing.dimension(
                    0, 0, 0, -depth, gettext("in ground %(label)s") % {"label": label}, 0.6 * drawing.step
                )

    def _sprung(self, drawing: Drawing, y: float) -> None:
        """What the span is worked out to besides, under it."""
        shape = self.shape
        words = gettext("sprung in %(both)s") % {"both": self._both(shape.spring_in)}
        if led := self._worked("spring", words):
            with drawing.link(led["href"], led["label"]):
                drawing.text(float(shape.span) / 2, y - drawing.mm(20), words, "dim")

    # End walls

    @drawn_once
    def end(self, wall: EndWall) -> SafeString:
        """One framed end wall seen from outside."""
        return self._end(wall, str(_END_NAMES[wall.name][1])).svg()

    def _end(self, wall: EndWall, name: str) -> Drawing:
        shape, doors = self.shape, wall.doors
        span, ridge = float(shape.span), float(shape.ridge_height)
        middle = span / 2
        words = ", ".join(
            said_count(len(members), noun)
            for members, noun in (
                (wall.studs, "stud"),
                (wall.door_posts, "door post"),
                (wall.short_studs, "short stud"),
            )
        )
        if doors.count:
            words += gettext(
                "; %(count)s x door opening %(width)s wide and %(height)s high, each leaf %(leaf_width)s "
                "x %(leaf_height)s"
            ) % {
                "count": doors.count,
                "width": self._say(doors.width),
                "height": self._say(doors.height),
                "leaf_width": self._say(doors.leaf_width),
                "leaf_height": self._say(doors.leaf_height),
            }
        drawing = self._drawing(span, ridge, name[0].lower() + name[1:], words + ".")
        self._frame(drawing)
        with drawing.of(*_DOORS):
            self._members(drawing, wall)
        label = self._fit(drawing, ridge, shape.ridge_height, gettext("ridge"))
        drawing.dimension(0, 0, 0, ridge, label, drawing.step)
        if doors.count:
            half, high = float(wall.opening) / 2, float(doors.height)
            side, wide = middle - half, float(doors.width)
            label = self._fit(drawing, doors.width, doors.width, gettext("door"))
            with drawing.of(f"{wall.name}_door_width", f"{wall.name}_door_count"):
                drawing.dimension(side, 0, side + wide, 0, label, -drawing.step)
            label = self._fit(drawing, doors.height, doors.height, gettext("door"))
            with drawing.of(f"{wall.name}_door_height"):
                drawing.dimension(span, high, span, 0, label, drawing.step)
            drawing.line(middle + half, high, span, high, "thin")
        return drawing

    def _members(self, drawing: Drawing, wall: EndWall) -> None:
        """Sill, header, studs and doors."""
        doors, span, face = wall.doors, float(self.shape.span), float(wall.face)
        middle = span / 2
        opening, high = float(wall.opening), float(doors.height)
        half, foot, gap = opening / 2, float(wall.foot), float(doors.clearance)
        if doors.count:
            for left in (foot, middle + half + face):
                drawing.bar(left, 0, middle - half - face - foot, face)
            drawing.bar(middle - half, high, opening, face)
            for number in range(doors.count):
                left = middle - half + number * float(doors.width) + gap
                drawing.rect(left, gap, float(doors.leaf_width), float(doors.leaf_height), "mark")
        else:
            drawing.bar(foot, 0, span - 2 * foot, face)
        for members, bottom in ((wall.studs, face), (wall.door_posts, 0.0), (wall.short_studs, high + face)):
            for x, length in members:
                drawing.bar(middle + float(x) - face / 2, bottom, face, float(length))

    # Side view

    def _shown_hoops(self) -> tuple[list[float], str]:
        places = [float(place) for place in self.shape.hoop_positions]
        if len(places) <= _MAX_HOOPS:
            return places, ""
        every = -(-len(places) // _MAX_HOOPS)
        kept = places[::every]
        if kept[-1] != places[-1]:
            kept.append(places[-1])
        return kept, gettext(" One hoop in %(every)s is drawn.") % {"every": every}

    @drawn_once
    def side(self) -> SafeString:
        """Along the house: hoops where they stand, purlins, boards."""
        drawing = self._drawing(
            float(self.shape.length), float(self.shape.ridge_height), gettext("side view"), self._side_words()
        )
        self._side(drawing)
        self._length(drawing)
        return drawing.svg()

    @drawn_once
    def plan(self) -> SafeString:
        """From above: hoops, purlins and doors."""
        drawing = self._drawing(
            float(self.shape.length), float(self.shape.span), gettext("plan of a house"), self._plan_words()
        )
        self._plan(drawing)
        self._length(drawing, below=0.0)
        return drawing.svg()

    @drawn_once
    def along(self) -> SafeString:
        """Side view, and the plan under it in projection."""
        shape = self.shape
        length, span, ridge = float(shape.length), float(shape.span), float(shape.ridge_height)
        depth = float(shape.post_depth)
        words = gettext("%(side_words)s In plan %(plan_words)s") % {
            "side_words": self._side_words(),
            "plan_words": self._plan_words(),
        }
        # Both views have half as much again as one.
        scale = min(ALONG / length, 1.5 * self.tallest / (ridge + depth + span))
        drawing = self._drawing(length, ridge, gettext("side view and plan"), words, scale)
        self._side(drawing)
        self._length(drawing)
        top = -depth - drawing.mm(_BETWEEN)
        for x in (0.0, length):
            drawing.line(x, -depth - drawing.step, x, top, "thin")
        with drawing.moved(0, top - span):
            self._plan(drawing)
        return drawing.svg()

    def _side_words(self) -> str:
        shape = self.shape
        return gettext(
            "%(hoops)s hoops %(spacing)s apart make %(length)s; ridge %(ridge_height)s above the ground.%(shown_hoops)s"
        ) % {
            "hoops": shape.hoops,
            "spacing": self._say(shape.spacing),
            "length": self._say(shape.length),
            "ridge_height": self._say(shape.ridge_height),
            "shown_hoops": self._shown_hoops()[1],
        }

    def _plan_words(self) -> str:
        shape = self.shape
        return gettext(
            "%(span)s across and %(length)s along, %(hoops)s hoops %(spacing)s apart. The front end "
            "is on the left.%(shown_hoops)s"
        ) % {
            "span": self._say(shape.span),
            "length": self._say(shape.length),
            "hoops": shape.hoops,
            "spacing": self._say(shape.spacing),
            "shown_hoops": self._shown_hoops()[1],
        }

    def _length(self, drawing: Drawing, below: float | None = None) -> None:
        """Its dimension under posts, or under ``below``."""
        length, y = float(self.shape.length), -float(self.shape.post_depth) if below is None else below
        with drawing.of("length"):
            drawing.dimension(0, y, length, y, gettext("length %(both)s") % {"both": self._both(length)}, -drawing.step)

    def _side(self, drawing: Drawing) -> None:
        shape = self.shape
        length, ridge = float(shape.length), float(shape.ridge_height)
        above, depth = float(shape.post_above), float(shape.post_depth)
        hoops, _ = self._shown_hoops()
        edge = length * 0.03
        drawing.ground(-edge, length + edge)
        with drawing.of("spacing_wanted"):
            for x in hoops:
                drawing.line(x, -depth, x, ridge, "seen")
        for height in sorted({float(purlin.height) for purlin in self.house.purlins} | {ridge}):
            drawing.line(0, height, length, height, "cut" if height == ridge else "seen")
        for board in self.house.boards:
            drawing.bar(0, float(board.bottom), length, float(board.height), "fill seen")
        if above:
            drawing.line(0, above, length, above, "thin")
        label = gettext("hoops apart %(both)s") % {"both": self._both(shape.spacing)}
        with drawing.of("spacing_wanted"):
            drawing.dimension(0, ridge, hoops[1], ridge, label, drawing.step, **self._worked("spacing", label))
        if led := self._worked("hoops", said_count(shape.hoops, "hoop")):
            with drawing.link(led["href"], led["label"]):
                drawing.text(length, ridge + drawing.mm(8), said_count(shape.hoops, "hoop"), "dim", anchor="end")
        height = self._fit(drawing, ridge, shape.ridge_height)
        if len(height) * LETTER_BREADTH < ridge * drawing.scale:
            drawing.dimension(0, 0, 0, ridge, height, drawing.step)

    def _plan(self, drawing: Drawing) -> None:
        length, span = float(self.shape.length), float(self.shape.span)
        drawing.rect(0, 0, length, span)
        for x in self._shown_hoops()[0]:
            drawing.line(x, 0, x, span, "seen")
        for purlin in self.house.purlins:
            y = span / 2 + float(purlin.x)
            drawing.line(0, y, length, y, "axis")
        for x, doors in zip((0.0, length), self.house.doors, strict=True):
            half = float(doors.opening) / 2
            if half:
                bar = drawing.mm(4)
                drawing.rect(x - bar / 2, span / 2 - half, bar, 2 * half, "mark")
        drawing.text(-drawing.mm(8), span / 2, gettext("front"), anchor="end")
        drawing.dimension(length, span, length, 0, self._fit(drawing, span, self.shape.span), drawing.step)


def _of_boards(name: str) -> tuple[str, ...]:
    """Fields of hip boards, or of base boards."""
    head = name.removesuffix("s").replace(" ", "_")
    return tuple(field for field in BY_NAME if field.startswith(head))
