"""Along the house, and under it in projection from above. x runs from the front hoop at 0."""

from __future__ import annotations

from collections.abc import Sequence

from farmbuild.drawings.bridge import Facts
from farmbuild.drawings.pen import LETTER, Layer, Line, Pen, breadth_of
from farmbuild.drawings.view import Say, View
from farmbuild.measure import format_count

#: Hoops drawn at most. Up to here every one is; over it every second, third and so on, and the last, as is said there.
MAX_HOOPS = 2000
#: mm of paper between side view and plan.
_BETWEEN = 34.0


def shown_hoops(facts: Facts) -> tuple[list[tuple[int, float]], str]:
    """(number from 1, place) of each hoop that is drawn, and what is said where not all are."""
    places = [(number, float(place)) for number, place in enumerate(facts.shape.hoop_positions, 1)]
    if len(places) <= MAX_HOOPS:
        return places, ""
    every = -(-len(places) // MAX_HOOPS)
    kept = places[::every]
    if kept[-1] != places[-1]:
        kept.append(places[-1])
    return kept, f"One hoop in {format_count(every)} is drawn."


def along(facts: Facts) -> View:
    """The plan stands ``_BETWEEN`` under the side view, which is part of the margins."""
    shape = facts.shape
    high = float(shape.ridge_height + shape.post_depth + shape.span) + facts.hoop_pipe / 2 + facts.post_pipe
    core = (0.0, -high, float(shape.length), 0.0)
    return View("Side view and plan", core, (30, 24 + _BETWEEN, 24, 18), lambda pen: _draw(pen, facts))


def plan_middle(pen: Pen, facts: Facts) -> float:
    """y of the middle line of the plan, where the ground of the side view is at 0."""
    shape = facts.shape
    return -float(shape.post_depth) - pen.mm(_BETWEEN) - float(shape.span) / 2


def _draw(pen: Pen, facts: Facts) -> None:
    # The core hangs from 0; both views are drawn down from the ridge.
    top = float(facts.shape.ridge_height) + facts.hoop_pipe / 2
    hoops, note = shown_hoops(facts)
    pen.shift = (0.0, -top)
    _side(pen, facts, hoops, note)
    pen.shift = (0.0, plan_middle(pen, facts) - top)
    _plan(pen, facts, hoops)
    pen.shift = (0.0, 0.0)


def _side(pen: Pen, facts: Facts, hoops: Sequence[tuple[int, float]], note: str) -> None:
    shape, say = facts.shape, Say(facts.units)
    length, ridge = float(shape.length), float(shape.ridge_height)
    above, depth, foot = float(shape.post_above), float(shape.post_depth), float(shape.foot_height)
    pen.ground(-pen.mm(8), length + pen.mm(8))
    for board in facts.drawn.boards:
        pen.rect(Layer.BOARDS, 0, float(board.bottom), length, float(board.height))
    # Those of the other side stand behind, at the same height.
    for x, height in sorted({(abs(row.x), row.height) for row in facts.drawn.purlins}):
        middle = Line.SEEN if x else Line.CUT
        pen.bar(Layer.PURLINS, [(0, float(height)), (length, float(height))], facts.purlin_pipe, line=middle)
    for _, x in hoops:
        pen.bar(Layer.PIPE, [(x, foot), (x, ridge)], facts.hoop_pipe)
        if facts.drawn.post_outside is not None:
            pen.bar(Layer.POSTS, [(x, -depth), (x, above)], facts.post_pipe)
    _numbers(pen, hoops, -depth - pen.mm(LETTER + 2))
    spacing, bays = float(shape.spacing), format_count(shape.bays)
    words = say.fit(pen, spacing)
    if len(hoops) == shape.hoops and breadth_of(words) < spacing / pen.scale:
        pen.size(hoops[0][1], ridge, hoops[1][1], ridge, 6, words)
    pen.text(0, ridge + pen.mm(12), f"{bays} bays of {say.both(spacing)}. {note}".strip())
    pen.size(0, 0, 0, ridge, 12, say.fit(pen, ridge, "ridge"))


def _numbers(pen: Pen, hoops: Sequence[tuple[int, float]], y: float) -> None:
    """Of the hoops under them, as many as there is room for, the first and the last among them."""
    apart = (hoops[1][1] - hoops[0][1]) / pen.scale
    every = max(1, -(-int(breadth_of(str(hoops[-1][0])) + 2) // max(1, int(apart)))) if apart >= 1 else 0
    for at, (number, x) in enumerate(hoops):
        last = at == len(hoops) - 1
        near_last = every and not last and len(hoops) - 1 - at < every
        if last or (at == 0) or (every and at % every == 0 and not near_last):
            pen.text(x, y, str(number), anchor="middle")


def _plan(pen: Pen, facts: Facts, hoops: Sequence[tuple[int, float]]) -> None:
    shape, say = facts.shape, Say(facts.units)
    length, half = float(shape.length), float(shape.span) / 2
    for purlin in facts.drawn.purlins:
        y = float(purlin.x)
        pen.bar(Layer.PURLINS, [(0, y), (length, y)], facts.purlin_pipe)
    for _, x in hoops:
        pen.bar(Layer.PIPE, [(x, -half), (x, half)], facts.hoop_pipe)
        if facts.drawn.post_outside is not None:
            for y in (-half, half):
                pen.circle(Layer.POSTS, x, y, facts.post_pipe / 2)
    for board in facts.drawn.boards:
        for y in (-half - facts.post_pipe / 2 - float(board.breadth), half + facts.post_pipe / 2):
            pen.rect(Layer.BOARDS, 0, y, length, float(board.breadth), Line.THIN)
    for x, doors, out in zip((0.0, length), facts.drawn.doors, (-1, 1), strict=True):
        if doors.count and (opening := float(doors.opening) / 2):
            pen.line(Layer.DOORS, x, -opening, x, opening, Line.CUT)
            pen.text(x + out * pen.mm(3.5), -pen.mm(LETTER / 2), "door", anchor="end" if out < 0 else "start")
    for y in (-half, half):
        pen.line(Layer.CENTRE, 0, y, length, -y, Line.CENTRE)
    pen.text(-pen.mm(3.5), half - pen.mm(LETTER + 4), "front", anchor="end")
    pen.text(length + pen.mm(3.5), half - pen.mm(LETTER + 4), "back")
    pen.size(0, -half, length, -half, -9, say.fit(pen, length, "length"))
    pen.size(0, -half, 0, half, 19, say.fit(pen, 2 * half, "post span"))
    words = f"Corners are square when both diagonals between post centres are {say.both(facts.diagonal)}."
    pen.text(0, -half - pen.mm(18), words)
