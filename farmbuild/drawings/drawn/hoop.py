"""The hoop as its pulls leave it, standing free, and one stick lying flat, each with its marks."""

from __future__ import annotations

from math import cos, sin

from django.utils.translation import gettext, ngettext

from farmbuild.drawings.bridge import Facts
from farmbuild.drawings.pen import LETTER, Layer, Line, Pen, arc_bulge
from farmbuild.drawings.view import Say, View
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop as _

#: Marks numbered on the hoop at most; the stick has them all.
_MAX_NUMBERED = 80
#: mm of paper between two lengths written upwards beside each other.
_APART = 4.0


def bent_path(facts: Facts) -> list[tuple[float, float, float]]:
    """Centre line from the left end, x from the middle of the free span."""
    pieces = facts.bend.hoop.pieces
    path = [(piece.x, piece.y, arc_bulge(piece.curvature * piece.length)) for piece in pieces]
    x, y, _ = pieces[-1].at(pieces[-1].end)
    return [*path, (x, y, 0.0)]


def bent_hoop(facts: Facts) -> View:
    hoop = facts.bend.hoop
    half, out = hoop.span / 2, facts.hoop_pipe / 2
    # Legs that toe in leave the hoop broader than its ends stand apart.
    left = min([-half, *(x for x, _ in hoop.outline())]) - out
    core = (left, 0.0, -left, hoop.rise + out)
    return View(_("Hoop as bent, standing free"), core, (14, 18, 26, 12), lambda pen: _hoop(pen, facts))


def _hoop(pen: Pen, facts: Facts) -> None:
    bend, hoop, say = facts.bend, facts.bend.hoop, Say(facts.units)
    half, a_stick = hoop.span / 2, len(facts.bend.marks)
    pen.bar(Layer.PIPE, bent_path(facts), facts.hoop_pipe, line=Line.CUT, centred=True)
    reach, before = facts.hoop_pipe / 2 + pen.mm(2), -pen.mm(99)
    for at, along in enumerate(map(float, bend.marks_on_hoop)):
        stick, number = divmod(at, a_stick)
        if number + 1 in bend.unpulled[stick]:
            continue
        x, y, way = hoop.point_at(along)
        across, up = -sin(way), cos(way)
        pen.line(Layer.MARKS, x - reach * across, y - reach * up, x + reach * across, y + reach * up)
        if len(bend.marks_on_hoop) <= _MAX_NUMBERED:
            # Two marks at a joint stand close: the second number goes further out.
            far = reach + pen.mm(3 if along - before > pen.mm(6) else 7)
            before = along
            pen.text(x + far * across, y + far * up - pen.mm(LETTER / 2), str(number + 1), anchor="middle")
    for number, along in enumerate(map(float, bend.joints), 1):
        x, y, way = hoop.point_at(along)
        inside = facts.hoop_pipe / 2 + pen.mm(11)
        pen.circle(Layer.SCREWS, x, y, max(facts.hoop_pipe * 0.2, pen.mm(0.8)))
        name = gettext("joint %(number)s") % {"number": number}
        pen.text(x + inside * sin(way), y - inside * cos(way) - pen.mm(LETTER / 2), name, anchor="middle")
    pen.size(-half, 0, half, 0, -9, say.fit(pen, hoop.span, gettext("free span")))
    # Clear of the numbers round the crown.
    pen.line(Layer.DIMENSIONS, 0.65 * half, hoop.rise, half, hoop.rise, Line.THIN)
    pen.size(half, 0, half, hoop.rise, -14, say.fit(pen, hoop.rise, gettext("rise")))


def stick(facts: Facts) -> View:
    core = (0.0, -facts.hoop_pipe / 2, float(facts.bend.stick_length), facts.hoop_pipe / 2)
    return View(_("One stick with its marks"), core, (4, 16, 6, 26), lambda pen: _stick(pen, facts))


def _stick(pen: Pen, facts: Facts) -> None:
    bend, say = facts.bend, Say(facts.units)
    length, across = float(bend.stick_length), facts.hoop_pipe
    swage = float(bend.insertion)
    material = facts.materials[facts.spec.recipe.tube]
    if material.swaged and swage:
        pen.bar(Layer.PIPE, [(0, 0), (swage, 0)], float(material.bore or across * 0.86))
    else:
        swage = 0.0
    pen.bar(Layer.PIPE, [(swage, 0), (length, 0)], across, line=Line.CUT)
    reach, top, last = across / 2 + pen.mm(1.5), across / 2 + pen.mm(3), -pen.mm(99)
    never = set.intersection(*map(set, bend.unpulled))
    for number, mark in enumerate(bend.marks, 1):
        x = float(mark)
        pen.line(Layer.MARKS, x, -reach, x, reach, Line.THIN if number in never else Line.CUT)
        if x - last >= pen.mm(_APART):
            pen.text(x + pen.mm(LETTER / 2), top, say.one(mark), turned=True)
            last = x
    end = gettext("swaged end") if material.swaged else gettext("marked end")
    count = len(bend.marks)
    words = ngettext(
        "%(end)s: goes in first; %(count)s mark from here", "%(end)s: goes in first; %(count)s marks from here", count
    )
    pen.text(pen.mm(2), -across / 2 - pen.mm(5), words % {"end": end, "count": format_count(count)})
    pen.size(0, -across / 2, length, -across / 2, -9, say.fit(pen, length, gettext("stick")))
