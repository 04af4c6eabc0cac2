"""Along the house, and under it in projection from above. x runs from the front hoop at 0."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from django.utils.translation import gettext, pgettext

from farmbuild.drawings.bridge import Facts
from farmbuild.drawings.pen import LETTER, Layer, Line, Pen, breadth_of
from farmbuild.drawings.view import Say, View
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop as _

#: Hoops drawn at most. Up to here every one is; over it every second, third and so on, and the last, as is said there.
MAX_HOOPS = 2000
#: mm of paper between side view and plan.
_BETWEEN = 34.0
_MARGINS = (30.0, 24.0 + _BETWEEN, 24.0, 18.0)
#: Of a bay: what is begun of the next one, where not all are drawn.
_BEYOND = 0.4


def shown_hoops(facts: Facts) -> tuple[list[tuple[int, float]], str]:
    """(number from 1, place) of each hoop that is drawn, and what is said where not all are."""
    places = [(number, float(place)) for number, place in enumerate(facts.shape.hoop_positions, 1)]
    if len(places) <= MAX_HOOPS:
        return places, ""
    every = -(-len(places) // MAX_HOOPS)
    kept = places[::every]
    if kept[-1] != places[-1]:
        kept.append(places[-1])
    return kept, gettext("One hoop in %(every)s is drawn.") % {"every": format_count(every)}


@dataclass(frozen=True)
class _Run:
    """What is drawn of the length: ``hoops`` with their numbers, what runs through up to ``length``, and words over it.

    ``whole``: from end to end, so that its length and its corners can be measured.
    """

    hoops: Sequence[tuple[int, float]]
    length: float
    words: str
    whole: bool


def along(facts: Facts) -> View:
    """The whole house. The plan stands ``_BETWEEN`` under the side view, which is part of the margins."""
    hoops, note = shown_hoops(facts)
    shape = facts.shape
    bays = {"bays": format_count(shape.bays), "spacing": Say(facts.units).both(shape.spacing)}
    words = gettext("%(bays)s bays of %(spacing)s.") % bays
    return _view(_("Side view and plan"), facts, _Run(hoops, float(shape.length), f"{words} {note}".strip(), True))


def first_bays(facts: Facts, scale: int, room: float) -> View | None:
    """As many bays from the front as fit ``room`` mm of paper at that scale: the others are like them."""
    shape = facts.shape
    bays = int(((room - _MARGINS[0] - _MARGINS[2]) * scale) / float(shape.spacing) - _BEYOND)
    if not 2 <= bays < shape.bays:
        return None
    hoops = [(number, float(place)) for number, place in enumerate(shape.hoop_positions[: bays + 1], 1)]
    words = gettext("Bays 1 to %(last)s of %(bays)s; all are alike, %(spacing)s.") % {
        "last": format_count(bays),
        "bays": format_count(shape.bays),
        "spacing": Say(facts.units).both(shape.spacing),
    }
    run = _Run(hoops, (bays + _BEYOND) * float(shape.spacing), words, False)
    return _view(_("First bays"), facts, run)


def _view(name: str, facts: Facts, run: _Run) -> View:
    shape = facts.shape
    high = float(shape.ridge_height + shape.post_depth + shape.span) + facts.hoop_pipe / 2 + facts.post_pipe
    return View(name, (0.0, -high, run.length, 0.0), _MARGINS, lambda pen: _draw(pen, facts, run))


def plan_middle(pen: Pen, facts: Facts) -> float:
    """y of the middle line of the plan, where the ground of the side view is at 0."""
    shape = facts.shape
    return -float(shape.post_depth) - pen.mm(_BETWEEN) - float(shape.span) / 2


def _draw(pen: Pen, facts: Facts, run: _Run) -> None:
    # The core hangs from 0; both views are drawn down from the ridge.
    top = float(facts.shape.ridge_height) + facts.hoop_pipe / 2
    pen.shift = (0.0, -top)
    _side(pen, facts, run)
    pen.shift = (0.0, plan_middle(pen, facts) - top)
    _plan(pen, facts, run)
    pen.shift = (0.0, 0.0)


def _side(pen: Pen, facts: Facts, run: _Run) -> None:
    shape, say = facts.shape, Say(facts.units)
    length, ridge, hoops = run.length, float(shape.ridge_height), run.hoops
    above, depth, foot = float(shape.post_above), float(shape.post_depth), float(shape.foot_height)
    pen.ground(-pen.mm(8), length + pen.mm(8))
    for board in facts.drawn.boards:
        pen.rect(Layer.BOARDS, 0, float(board.bottom), length, float(board.height))
    # Those of the other side stand behind, at the same height.
    for x, height in sorted({(abs(row.x), row.height) for row in facts.drawn.purlins}):
        middle = Line.SEEN if x else Line.CUT
        pen.bar(Layer.PURLINS, [(0, float(height)), (length, float(height))], facts.purlin_pipe, line=middle)
    for _number, x in hoops:
        pen.bar(Layer.PIPE, [(x, foot), (x, ridge)], facts.hoop_pipe)
        if facts.drawn.post_outside is not None:
            pen.bar(Layer.POSTS, [(x, -depth), (x, above)], facts.post_pipe)
    # Under posts, boards of a house without posts, and the hatching of the ground.
    low = min(-depth, -pen.mm(2.5), *(float(board.bottom) for board in facts.drawn.boards))
    _numbers(pen, hoops, low - pen.mm(LETTER + 2))
    # That of the first bay, where all hoops are drawn.
    spacing = float(shape.spacing)
    words = say.fit(pen, spacing)
    if hoops[1][0] == 2 and breadth_of(words) < spacing / pen.scale:
        pen.size(hoops[0][1], ridge, hoops[1][1], ridge, 6, words)
    pen.text(0, ridge + pen.mm(12), run.words)
    if say.fits(pen, ridge):
        pen.size(0, 0, 0, ridge, 12, say.fit(pen, ridge, gettext("ridge")))


def _numbers(pen: Pen, hoops: Sequence[tuple[int, float]], y: float) -> None:
    """Of the hoops under them, as many as there is room for, the first and the last among them."""
    apart = (hoops[1][1] - hoops[0][1]) / pen.scale
    every = max(1, -(-int(breadth_of(str(hoops[-1][0])) + 2) // max(1, int(apart)))) if apart >= 1 else 0
    for at, (number, x) in enumerate(hoops):
        last = at == len(hoops) - 1
        near_last = every and not last and len(hoops) - 1 - at < every
        if last or (at == 0) or (every and at % every == 0 and not near_last):
            pen.text(x, y, str(number), anchor="middle")


def _north(pen: Pen, x: float, y: float, clockwise: int) -> None:
    """An arrow of 12 mm about that point, with its letter past the tip."""
    lean = radians(clockwise)
    ux, uy = sin(lean) * pen.mm(1), cos(lean) * pen.mm(1)
    tip = (x + 6 * ux, y + 6 * uy)
    pen.line(Layer.DIMENSIONS, x - 6 * ux, y - 6 * uy, *tip)
    for side in (-1, 1):
        pen.line(Layer.DIMENSIONS, *tip, tip[0] - 3 * ux + side * uy, tip[1] - 3 * uy - side * ux)
    pen.text(tip[0] + 3 * ux, tip[1] + 3 * uy - pen.mm(LETTER / 2), "N", anchor="middle")


def _plan(pen: Pen, facts: Facts, run: _Run) -> None:
    shape, say = facts.shape, Say(facts.units)
    length, half, hoops = run.length, float(shape.span) / 2, run.hoops
    for purlin in facts.drawn.purlins:
        y = float(purlin.x)
        pen.bar(Layer.PURLINS, [(0, y), (length, y)], facts.purlin_pipe)
    for _number, x in hoops:
        pen.bar(Layer.PIPE, [(x, -half), (x, half)], facts.hoop_pipe)
        if facts.drawn.post_outside is not None:
            for y in (-half, half):
                pen.circle(Layer.POSTS, x, y, facts.post_pipe / 2)
    for board in facts.drawn.boards:
        for y in (-half - facts.post_pipe / 2 - float(board.breadth), half + facts.post_pipe / 2):
            pen.rect(Layer.BOARDS, 0, y, length, float(board.breadth), Line.THIN)
    for x, doors, out in zip((0.0, length), facts.drawn.doors, (-1, 1), strict=True):
        if x and not run.whole:
            continue
        if doors.count and (opening := float(doors.opening) / 2):
            pen.line(Layer.DOORS, x, -opening, x, opening, Line.CUT)
            pen.text(x + out * pen.mm(3.5), -pen.mm(LETTER / 2), gettext("door"), anchor="end" if out < 0 else "start")
    pen.text(-pen.mm(3.5), half - pen.mm(LETTER + 4), gettext("front"), anchor="end")
    if say.fits(pen, 2 * half):
        pen.size(0, -half, 0, half, 19, say.fit(pen, 2 * half, pgettext("on a drawing", "post span")))
    if facts.north is not None:
        _north(pen, length + pen.mm(13), -half + pen.mm(3), facts.north)
    if not run.whole:
        return
    for y in (-half, half):
        pen.line(Layer.CENTRE, 0, y, length, -y, Line.CENTRE)
    pen.text(length + pen.mm(3.5), half - pen.mm(LETTER + 4), gettext("back"))
    pen.size(0, -half, length, -half, -9, say.fit(pen, length, gettext("length")))
    words = gettext("Corners are square when both diagonals between post centres are %(diagonal)s.")
    pen.text(0, -half - pen.mm(18), words % {"diagonal": say.both(facts.diagonal)})
