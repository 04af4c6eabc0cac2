"""One stick before it is cut, to scale: the pieces, what the saw takes, and what is left."""

from __future__ import annotations

from itertools import groupby

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop

from farmbuild.common.drawing import LETTER_BREADTH, Drawing
from farmbuild.common.lengths import length_pair
from farmbuild.common.speaking import said_count
from farmbuild.orgs.models import Organisation
from farmbuild.stock.cut_layout import Layout, to_mm

#: The stick's height as a share of its length: room for a number inside.
_HEIGHT = 0.085
#: What cuts are counted in, one and many.
_SAW_CUT, _SAW_CUTS = gettext_noop("saw cut"), gettext_noop("saw cuts")


def cut_in_words(layout: Layout, organisation: Organisation) -> str:
    """2 of 2' (610 mm), 1 of 3' (914 mm); 3 saw cuts; offcut of 2' 11 5/8" (905 mm)."""

    def say(length: int) -> str:
        own, other = length_pair(to_mm(length), organisation.unit_system)
        return f"{own} ({other})"

    runs = [(length, len(list(run))) for length, run in groupby(layout.pieces)]
    told = [
        ", ".join(
            gettext("%(count)s of %(length)s") % {"count": count, "length": say(length)} for length, count in runs
        )
    ]
    told.append(said_count(layout.kerfs, _SAW_CUT))
    if layout.offcut:
        told.append(gettext("an offcut of %(length)s is kept") % {"length": say(layout.offcut)})
    elif layout.scrap:
        told.append(gettext("%(length)s is scrap") % {"length": say(layout.scrap)})
    else:
        told.append(gettext("nothing is left"))
    return "; ".join(told)


def cut_drawing(layout: Layout, organisation: Organisation) -> SafeString:
    stick = float(to_mm(layout.stick))
    height = stick * _HEIGHT
    own, other = length_pair(to_mm(layout.stick), organisation.unit_system)
    title = gettext("One stick of %(length)s") % {"length": own}
    from_the_left = gettext("From the left: %(pieces)s.") % {"pieces": cut_in_words(layout, organisation)}
    drawing = Drawing(stick, height, title, from_the_left)

    def fits(words: str, wide: float) -> bool:
        return len(words) * LETTER_BREADTH + 4 <= wide * drawing.scale

    at, above, saw = 0.0, height + drawing.mm(5), float(to_mm(layout.kerf))
    for length, run in groupby(layout.pieces):
        count, wide, start = len(list(run)), float(to_mm(length)), at
        for _ in range(count):
            drawing.rect(at, 0, wide, height, "fill")
            at += wide + saw
        words = length_pair(to_mm(length), organisation.unit_system)[0]
        words = words if count == 1 else f"{count} × {words}"
        if fits(words, at - saw - start):
            drawing.text((start + at - saw) / 2, above, words, "dim")
    left = float(to_mm(layout.offcut or layout.scrap))
    if left:
        drawing.rect(stick - left, 0, left, height, "dash")
        words = gettext("kept") if layout.offcut else gettext("scrap")
        if fits(words, left):
            drawing.text(stick - left / 2, height / 2 - drawing.mm(5), words)
    drawing.dimension(0, 0, stick, 0, f"{own} ({other})", -drawing.step)
    return drawing.svg()
