"""Scale drawings of a recipe: the hoop with every mark and joint, and one flat stick with its marks."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import ceil, cos, sin

from django.utils.safestring import SafeString

from farmbuild.common.drawing import LETTER, LETTER_BREADTH, Drawing
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.hoops.recipes.bridge import LEVER_BELOW, BendRecipe

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

    @property
    def first_end(self) -> str:
        return "swaged end" if self.swaged else "first end"

    def _say(self, length: object) -> str:
        return length_text(length, self.units)

    def hoop(self) -> SafeString:
        """The hoop standing free, left end where the first stick's swaged end is."""
        bend, hoop = self.bend, self.bend.hoop
        marks, joints = bend.marks_on_hoop, bend.joints
        words = (
            f"Free span {self._say(hoop.span)}, rise {self._say(hoop.rise)}, {self._say(bend.developed)} of pipe on a"
            f" radius of {self._say(bend.radius)}; {len(marks)} marks and {len(joints)} joints."
            + (f" Straight legs of {self._say(hoop.leg)}." if hoop.leg > 1 else "")
        )
        drawing = Drawing(hoop.span, hoop.rise, f"{self.name}: the hoop", words)
        half = hoop.span / 2
        drawing.line(-drawing.mm(8), 0, hoop.span + drawing.mm(8), 0, "thin")
        drawing.polyline([(half + x, y) for x, y in hoop.outline()])
        self._marks(drawing, half)
        for number, along in enumerate(joints, 1):
            x, y, way = hoop.point_at(float(along))
            drawing.circle(half + x, y, drawing.mm(4), "fill")
            inside = drawing.mm(16)
            drawing.text(
                half + x + inside * sin(way), y - inside * cos(way) - drawing.mm(4), f"joint {number}", "small"
            )
        drawing.dimension(0, 0, hoop.span, 0, f"free span {length_pair_text(hoop.span, self.units)}", -drawing.step)
        drawing.line(half, hoop.rise, hoop.span, hoop.rise, "thin dash")
        label = f"rise {length_pair_text(hoop.rise, self.units)}"
        # Clear of the numbers of the marks.
        drawing.dimension(hoop.span, hoop.rise, hoop.span, 0, label, 1.6 * drawing.step)
        if hoop.leg > 1:
            drawing.dimension(0, hoop.leg, 0, 0, f"leg {self._say(hoop.leg)}", -1.6 * drawing.step)
        return drawing.svg()

    def _marks(self, drawing: Drawing, half: float) -> None:
        """A stroke across the pipe at each mark, numbered stick by stick outside the hoop.

        A mark on a straight leg is not pulled: a thin stroke without a number.
        """
        hoop, a_stick = self.bend.hoop, len(self.bend.marks)
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
                drawing.text(x + far * across, y + far * up - drawing.mm(LETTER / 3), number)

    def stick(self) -> SafeString:
        """One stick lying flat, swaged end on the left, each mark with its distance from that end."""
        bend = self.bend
        length = float(bend.stick_length)
        texts = [self._say(mark) for mark in bend.marks]
        words = f"Marks from the {self.first_end} of a stick of {self._say(bend.stick_length)}: {', '.join(texts)}."
        drawing = Drawing(length, 0, f"{self.name}: one stick with its marks", words)
        thick = drawing.mm(10)
        swage = min(float(bend.insertion) or length * 0.03, length / 4)
        if self.swaged:
            drawing.rect(swage, 0, length - swage, thick, "fill")
            drawing.rect(0, thick * 0.15, swage, thick * 0.7, "fill")
        else:
            drawing.rect(0, 0, length, thick, "fill")
        self._tape(drawing, texts, thick)
        drawing.text(0, -drawing.mm(18), f"{self.first_end}: goes in first", anchor="start")
        drawing.text(length, -drawing.mm(18), "plain end" if self.swaged else "other end", anchor="end")
        lever = lever_mark(bend, self.lever_below)
        if lever is not None:
            drawing.line(lever, -drawing.mm(26), length, -drawing.mm(26), "dash")
            drawing.text(length, -drawing.mm(42), f"lever bar from {self._say(lever)}", anchor="end")
        below = drawing.mm(42 if lever is not None else 16)
        drawing.dimension(
            0, -below, length, -below, f"stick {length_pair_text(bend.stick_length, self.units)}", -drawing.step
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
        for at, (mark, text) in enumerate(zip(self.bend.marks, texts, strict=True)):
            x, kind = float(mark), "thin" if at + 1 in never else "mark"
            if at % every:
                drawing.line(x, 0, x, thick + drawing.mm(3), kind)
                continue
            top = thick + drawing.mm(6 + 17 * (at // every % rows))
            drawing.line(x, 0, x, top, kind)
            drawing.text(x, top + drawing.mm(4), text)


def lever_words(bend: BendRecipe, units: str, lever_below: Decimal = LEVER_BELOW) -> str:
    """Where the lever bar starts to be needed, in a sentence."""
    free = length_text(lever_below, units)
    lever = lever_mark(bend, lever_below)
    if lever is None:
        return f"More than {free} of pipe is left to pull on at every pull, so no lever bar is needed."
    return (
        f"From the mark at {length_text(lever, units)} less than {free} of pipe is left to pull on: slide a"
        " lever bar over the plain end (common practice, no source)."
    )


def unpulled_words(bend: BendRecipe, units: str) -> str:
    """Which marks lie on straight legs and are not pulled, in a sentence; empty where none does."""
    parts = [
        f"{_numbers(numbers)}{f' of stick {stick}' if bend.sticks > 1 else ''}"
        for stick, numbers in enumerate(bend.unpulled, 1)
        if numbers
    ]
    if not parts:
        return ""
    return (
        f"The pipe is longer than a half circle on this radius, so {length_text(bend.hoop.leg, units)} at each"
        f" end stays straight. Do not pull at {' or '.join(parts)}, counted from the swaged end"
        f"{'; stick 1 is the one whose swaged end is an end of the hoop' if bend.sticks > 1 else ''}."
    )


def _numbers(numbers: list[int]) -> str:
    """mark 1; marks 6 and 7; marks 1 to 6 and 9 to 14. The straight legs hold at most a run at either end."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    texts = [str(run[0]) if len(run) == 1 else f"{run[0]} {'and' if len(run) == 2 else 'to'} {run[-1]}" for run in runs]
    return f"mark{'s' if len(numbers) > 1 else ''} {' and '.join(texts)}"


def lever_mark(bend: BendRecipe, lever_below: Decimal = LEVER_BELOW) -> Decimal | None:
    """The first mark that is pulled with less than that much free pipe, mm from the swaged end; None without one."""
    never = set.intersection(*map(set, bend.unpulled))
    for number, mark in enumerate(bend.marks, 1):
        if number not in never and bend.stick_length - mark < lever_below:
            return mark
    return None
