"""Scale drawings of a recipe: the hoop with every mark and joint, and one flat stick with its marks."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import ceil, cos, sin

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import LETTER, LETTER_BREADTH, PAPER, Drawing
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.speaking import said_count
from farmbuild.hoops.recipes.bridge import LEVER_BELOW, BendRecipe, BentHoop, size_text
from farmbuild.hoops.recipes.words import end_words, left_off_words, lever_mark

#: Marks numbered at most; more would run into one another.
_MAX_NUMBERED = 40
_MAX_ROWS = 4


@dataclass(frozen=True)
class HoopDrawing:
    bend: BendRecipe
    name: str
    units: str
    #: Free pipe past a mark below which the lever bar is used, mm.
    lever_below: Decimal = LEVER_BELOW
    #: Conduit has no swage: its sticks are drawn plain, and either end may go in first.
    swaged: bool = True
    #: As its trial hoop should stand; the recipe's own where it is None.
    wanted: BentHoop | None = None
    #: What joins its sticks, in words; empty for a swage.
    sleeve: str = ""
    #: Room on paper for the hoop, mm; None for a small one in a text, of which no scale is said.
    paper: tuple[float, float] | None = (170.0, 100.0)

    @property
    def first_end(self) -> str:
        return end_words(self.swaged)

    @property
    def _standing(self) -> BentHoop:
        return self.wanted or self.bend.hoop

    def _say(self, length: object) -> str:
        return length_text(length, self.units)

    def hoop(self) -> SafeString:
        """The hoop standing free, left end where the first stick is measured from."""
        bend, hoop = self.bend, self._standing
        marks, joints = bend.marks_on_hoop, bend.joints
        left, right = hoop.legs
        words = gettext(
            "Free span %(span)s, rise %(rise)s, %(pipe)s of pipe on a radius of %(radius)s; %(marks)s marks and"
            " %(joints)s joints."
        ) % {
            "span": self._say(hoop.span),
            "rise": self._say(hoop.rise),
            "pipe": self._say(bend.developed),
            "radius": self._say(bend.radius),
            "marks": len(marks),
            "joints": len(joints),
        }
        if hoop.leg > 1:
            legs = gettext("Straight pipe of %(left)s at the left end and %(right)s at the right.")
            words += " " + legs % {"left": self._say(left), "right": self._say(right)}
        if self.sleeve and joints:
            butt = gettext("At each joint the sticks butt in the middle of an %(sleeve)s.")
            words += " " + butt % {"sleeve": self.sleeve}
        title, units = gettext("%(name)s: the hoop") % {"name": self.name}, self.units if self.paper else ""
        drawing = Drawing(hoop.span, hoop.rise, title, words, units=units, paper=self.paper or PAPER)
        half = hoop.span / 2
        drawing.line(-drawing.mm(8), 0, hoop.span + drawing.mm(8), 0, "thin")
        drawing.polyline([(half + x, y) for x, y in hoop.outline()])
        clear = self._marks(drawing, half)
        for number, along in enumerate(joints, 1):
            x, y, way = hoop.point_at(float(along))
            if self.sleeve:
                self._sleeve(drawing, float(along), half)
            else:
                drawing.circle(half + x, y, drawing.mm(4), "fill")
            name = (gettext("joint %(number)s: sleeve") if self.sleeve else gettext("joint %(number)s")) % {
                "number": number
            }
            # On the side of a hoop its words would reach over the pipe.
            inside = drawing.mm(16 + len(name) * LETTER_BREADTH / 2 * abs(sin(way)))
            drawing.text(half + x + inside * sin(way), y - inside * cos(way) - drawing.mm(4), name, "small")
        span = gettext("free span %(length)s") % {"length": length_pair_text(hoop.span, self.units)}
        drawing.dimension(0, 0, hoop.span, 0, span, -drawing.step)
        drawing.line(min(clear, hoop.span), hoop.rise, hoop.span, hoop.rise, "thin")
        label = gettext("rise %(length)s") % {"length": length_pair_text(hoop.rise, self.units)}
        # Clear of the numbers of the marks.
        drawing.dimension(hoop.span, hoop.rise, hoop.span, 0, label, 1.6 * drawing.step)
        if left > drawing.mm(24):
            leg = gettext("leg %(length)s") % {"length": self._say(left)}
            drawing.dimension(0, left, 0, 0, leg, -1.6 * drawing.step)
        return drawing.svg()

    def _sleeve(self, drawing: Drawing, joint: float, half: float) -> None:
        """A band over the pipe as long as the sleeve, and a stroke where the sticks butt."""
        reach, out = float(self.bend.sleeve) / 2, drawing.mm(4)
        ends = [self._standing.point_at(joint + side * reach) for side in (-1, 1)]
        corners = [(half + x - out * sin(way), y + out * cos(way)) for x, y, way in ends]
        corners += [(half + x + out * sin(way), y - out * cos(way)) for x, y, way in reversed(ends)]
        drawing.polyline(corners, "fill", closed=True)
        x, y, way = self._standing.point_at(joint)
        drawing.line(half + x + out * sin(way), y - out * cos(way), half + x - out * sin(way), y + out * cos(way))

    def _marks(self, drawing: Drawing, half: float) -> float:
        """A stroke across the pipe at each mark, numbered stick by stick outside the hoop.

        A mark on a straight leg is not pulled: a thin stroke without a number. Gives from where on a level line at
        the crown meets none of the numbers.
        """
        clear = half
        hoop, a_stick = self._standing, len(self.bend.marks)
        marks = self.bend.marks_on_hoop
        unpulled = [number in numbers for numbers in self.bend.unpulled for number in range(1, a_stick + 1)]
        out, before = drawing.mm(5), -drawing.mm(30)
        for at, along in enumerate(marks):
            x, y, way = hoop.point_at(float(along))
            across, up = -sin(way), cos(way)
            x += half
            kind = "thin" if unpulled[at] else "mark"
            drawing.line(x - out * across, y - out * up, x + out * across, y + out * up, kind)
            if unpulled[at]:
                continue
            if len(marks) <= _MAX_NUMBERED:
                # Two marks at a joint stand close: the second number goes further out.
                far = drawing.mm(13 if float(along) - before > drawing.mm(14) else 24)
                before = float(along)
                number = str(at % a_stick + 1)
                beside, foot = x + far * across, y + far * up - drawing.mm(LETTER / 3)
                drawing.text(beside, foot, number)
                if foot - drawing.mm(3) < hoop.rise < foot + drawing.mm(LETTER + 1) and beside > half:
                    clear = max(clear, beside + drawing.mm(len(number) * LETTER_BREADTH / 2 + 4))
        return clear

    def stick(self) -> SafeString:
        """One stick lying flat, the end that it is measured from on the left, each mark with its distance from it."""
        bend = self.bend
        length = float(bend.stick_length)
        texts = [self._say(mark) for mark in bend.marks]
        words = gettext("Marks from the %(first_end)s of a stick of %(stick_length)s: %(texts)s.") % {
            "first_end": self.first_end,
            "stick_length": self._say(bend.stick_length),
            "texts": ", ".join(texts),
        }
        if left_off := left_off_words(bend, self.units):
            words += f" {left_off}"
        if self.sleeve:
            words += gettext(" The last %(sleeve)s at a joint stay straight: the sleeve goes there.") % {
                "sleeve": self._say(bend.sleeve / 2)
            }
        drawing = Drawing(length, 0, gettext("%(name)s: one stick with its marks") % {"name": self.name}, words)
        thick = drawing.mm(10)
        swage = min(float(bend.insertion) or length * 0.03, length / 4)
        if self.sleeve:
            drawing.rect(0, 0, length, thick, "fill")
            for at in (float(bend.sleeve) / 2, length - float(bend.sleeve) / 2):
                drawing.line(at, -drawing.mm(4), at, thick + drawing.mm(4), "thin")
        elif self.swaged:
            drawing.rect(swage, 0, length - swage, thick, "fill")
            drawing.rect(0, thick * 0.15, swage, thick * 0.7, "fill")
        else:
            drawing.rect(0, 0, length, thick, "fill")
        self._tape(drawing, texts, thick)
        drawing.text(
            0, -drawing.mm(18), gettext("%(first_end)s: goes in first") % {"first_end": self.first_end}, anchor="start"
        )
        drawing.text(
            length, -drawing.mm(18), gettext("plain end") if self.swaged else gettext("other end"), anchor="end"
        )
        lever = lever_mark(bend, self.lever_below)
        if lever is not None:
            drawing.line(lever, -drawing.mm(26), length, -drawing.mm(26), "thin")
            drawing.text(
                length, -drawing.mm(42), gettext("lever bar from %(lever)s") % {"lever": self._say(lever)}, anchor="end"
            )
        below = drawing.mm(42 if lever is not None else 16)
        if self.sleeve:
            below += drawing.mm(18)
            straight = gettext("straight for the sleeve: %(sleeve)s at each joint") % {
                "sleeve": self._say(bend.sleeve / 2)
            }
            drawing.text(0, -below, straight, "small", anchor="start")
        drawing.dimension(
            0,
            -below,
            length,
            -below,
            gettext("stick %(stick_length)s") % {"stick_length": length_pair_text(bend.stick_length, self.units)},
            -drawing.step,
        )
        return drawing.svg()

    def _tape(self, drawing: Drawing, texts: list[str], thick: float) -> None:
        """Marks with their distance above, in as many rows as keep the words apart."""
        pitch = float(self.bend.pitch) * drawing.scale
        widest = max(len(text) for text in texts) * LETTER_BREADTH + 6
        rows = ceil(widest / pitch)
        every = ceil(rows / _MAX_ROWS)
        rows = min(rows, _MAX_ROWS)
        never = set.intersection(*map(set, self.bend.unpulled))
        for at, _ in self.bend.left_off:
            drawing.line(float(at), 0, float(at), thick, "thin")
        for at, (mark, text) in enumerate(zip(self.bend.marks, texts, strict=True)):
            x, kind = float(mark), "thin" if at + 1 in never else "mark"
            if at % every:
                drawing.line(x, 0, x, thick + drawing.mm(3), kind)
                continue
            top = thick + drawing.mm(6 + 17 * (at // every % rows))
            drawing.line(x, 0, x, top, kind)
            drawing.text(x, top + drawing.mm(4), text)


@dataclass(frozen=True)
class JointDrawing:
    """Two sticks butted in a sleeve, seen from the side; mm. ``inner``: the sleeve is inside of them."""

    name: str
    units: str
    tube: str
    sleeve: str
    inner: bool
    #: Outside diameters.
    tube_across: Decimal
    sleeve_across: Decimal
    length: Decimal
    screws: int
    play: Decimal | None

    def joint(self) -> SafeString:
        """To scale along the pipe and across it."""
        long, across = float(self.length), float(self.tube_across)
        wide, high = 1.5 * long, max(across, float(self.sleeve_across))
        middle, half = wide / 2, long / 2
        each = length_text(self.length / 2, self.units)
        words = (
            gettext(
                "Two sticks of %(tube)s butt. A sleeve of %(sleeve)s, %(length)s long, lies inside them: %(each)s in"
                " either."
            )
            if self.inner
            else gettext(
                "Two sticks of %(tube)s butt. A sleeve of %(sleeve)s, %(length)s long, lies over them: %(each)s in"
                " either."
            )
        ) % {
            "tube": self.tube,
            "sleeve": self.sleeve,
            "length": length_text(self.length, self.units),
            "each": each,
        }
        if self.play is not None:
            words += gettext(" Its play is %(play)s.") % {"play": size_text(self.play, self.units)}
        if self.screws:
            words += " " + gettext("In its side: %(screws)s.") % {"screws": said_count(self.screws, "screw")}
        drawing = Drawing(wide, high, gettext("%(name)s: a joint") % {"name": self.name}, words, units=self.units)
        drawing.rect(0, (high - across) / 2, wide, across, "fill")
        inside = float(self.sleeve_across)
        drawing.rect(middle - half, (high - inside) / 2, long, inside, "thin" if self.inner else "fill")
        drawing.line(middle, 0, middle, high)
        for x in self._screws(middle, half):
            drawing.circle(x, high / 2, drawing.mm(2.5), "mark")
        place = gettext("sleeve inside both sticks") if self.inner else gettext("sleeve over both sticks")
        drawing.text(middle, high + drawing.mm(8), place)
        label = gettext("sleeve %(length)s") % {"length": length_pair_text(self.length, self.units)}
        drawing.dimension(middle - half, 0, middle + half, 0, label, -drawing.step)
        drawing.dimension(middle - half, 0, middle, 0, each, -2.2 * drawing.step)
        return drawing.svg()

    def _screws(self, middle: float, half: float) -> list[float]:
        """As many in either stick, the odd one in the left, evenly along it."""
        left, right = (self.screws + 1) // 2, self.screws // 2
        return [
            *(middle - half * (n + 1) / (left + 1) for n in range(left)),
            *(middle + half * (n + 1) / (right + 1) for n in range(right)),
        ]
