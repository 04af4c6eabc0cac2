"""One stick with its cuts, to scale."""

from __future__ import annotations

from decimal import Decimal
from itertools import groupby

from django.utils.safestring import SafeString

from farmbuild.common.drawing import LETTER_BREADTH, Drawing
from farmbuild.measure import UnitSystem, format_length
from farmbuild.orgs.models import Organisation
from farmbuild.plans.cut_bundles import Bundle, Cut

#: The stick's height as a share of the longest one's length: room for a number inside.
HEIGHT = Decimal("0.085")
SPARE = 4.0


def stick_drawing(bundle: Bundle, organisation: Organisation, longest: Decimal) -> SafeString:
    """Pieces from the left with their numbers, their lengths above, the stick's length below.

    ``longest``: mm, the length that takes the whole width, so that sticks of one material compare.
    """
    units = UnitSystem(organisation.unit_system)

    def say(length: Decimal) -> str:
        return format_length(length, units)

    stick = say(bundle.stick_length)
    drawing = Drawing(
        longest,
        longest * HEIGHT,
        f"{bundle.material.name}, {stick}, {len(bundle.cuts)} pieces",
        _in_words(bundle, stick, say(bundle.remainder), [say(cut.length) for cut in bundle.cuts]),
    )
    height = longest * HEIGHT
    middle = height / 2 - Decimal(drawing.mm(5))
    for cut in bundle.cuts:
        drawing.rect(cut.start, 0, cut.length, height, "fill")
        if _fits(drawing, str(cut.number), cut.length):
            drawing.text(cut.start + cut.length / 2, middle, cut.number)
    above = height + Decimal(drawing.mm(5))
    for equal in _equal_runs(bundle):
        wide = equal[-1].end - equal[0].start
        words = say(equal[0].length) if len(equal) == 1 else f"{len(equal)} × {say(equal[0].length)}"
        if _fits(drawing, words, wide):
            drawing.text(equal[0].start + wide / 2, above, words, "dim")
    if bundle.remainder > 0:
        drawing.rect(bundle.remainder_start, 0, bundle.remainder, height, "dash")
    drawing.dimension(0, 0, bundle.stick_length, 0, stick, -drawing.step)
    return drawing.svg()


def _equal_runs(bundle: Bundle) -> list[list[Cut]]:
    return [list(run) for _, run in groupby(bundle.cuts, key=lambda cut: cut.length)]


def _fits(drawing: Drawing, words: str, wide: Decimal) -> bool:
    return len(words) * LETTER_BREADTH + SPARE <= float(wide) * drawing.scale


def _in_words(bundle: Bundle, stick: str, remainder: str, pieces: list[str]) -> str:
    end = f"{remainder} is left" if bundle.remainder > 0 else "nothing is left"
    return f"A stick of {stick}, cut from the left into {', '.join(pieces)}; {end}."
