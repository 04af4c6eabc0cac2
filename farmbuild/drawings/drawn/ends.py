"""Framed end walls seen from outside. x from the middle of the house."""

from __future__ import annotations

from dataclasses import replace

from django.utils.translation import gettext, pgettext

from farmbuild.drawings.bridge import EndWall, Facts
from farmbuild.drawings.drawn.frame import core, frame
from farmbuild.drawings.pen import LETTER, Layer, Line, Pen
from farmbuild.drawings.view import Say, View
from farmbuild.measure.speech import gettext_noop as _

_NAMES = {"front": _("Front end"), "back": _("Back end")}


def ends(facts: Facts) -> list[View]:
    """Front and back; one where both are alike."""
    walls = facts.drawn.end_walls
    if len(walls) == 2 and walls[1] == replace(walls[0], doors=replace(walls[0].doors, end=walls[1].name)):
        return [_end(facts, walls[0], _("Front and back end, both alike"))]
    return [_end(facts, wall, _NAMES[wall.name]) for wall in walls]


def _end(facts: Facts, wall: EndWall, name: str) -> View:
    return View(name, core(facts), (20, 24, 20, 8), lambda pen: _draw(pen, facts, wall))


def _draw(pen: Pen, facts: Facts, wall: EndWall) -> None:
    shape, say = facts.shape, Say(facts.units)
    half, ridge, face, foot = float(shape.span) / 2, float(shape.ridge_height), float(wall.face), float(wall.foot)
    opening, doors, high = float(wall.opening) / 2, wall.doors, float(wall.doors.height)
    frame(pen, facts)
    if doors.count:
        for left, right in ((-half + foot, -opening - face), (opening + face, half - foot)):
            pen.rect(Layer.FRAME, left, 0, right - left, face)
        pen.rect(Layer.FRAME, -opening, high, 2 * opening, face)
        for number in range(doors.count):
            left = -opening + number * float(doors.width) + float(doors.clearance)
            pen.rect(
                Layer.DOORS, left, float(doors.clearance), float(doors.leaf_width), float(doors.leaf_height), Line.THIN
            )
    else:
        pen.rect(Layer.FRAME, -half + foot, 0, 2 * (half - foot), face)
    for members, bottom in ((wall.studs, face), (wall.door_posts, 0.0), (wall.short_studs, high + face)):
        for x, length in members:
            pen.bar(Layer.FRAME, [(float(x), bottom), (float(x), bottom + float(length))], face)
            _length(pen, facts, wall, float(x), bottom, float(length))
    depth = float(shape.post_depth)
    pen.size(-half, -depth, half, -depth, -16, say.fit(pen, 2 * half, pgettext("on a drawing", "post span")))
    pen.size(-half, 0, -half, ridge, 12, say.fit(pen, ridge, gettext("ridge")))
    if doors.count:
        pen.size(-opening, 0, opening, 0, -8, say.fit(pen, 2 * opening, gettext("opening")))
        pen.size(opening, 0, opening, high, 5, say.fit(pen, high, gettext("door")))


def _length(pen: Pen, facts: Facts, wall: EndWall, x: float, bottom: float, length: float) -> None:
    """How long a stud is, along it: on the side away from the door, or towards it where there is more room.

    Where neither has room the list of parts has it alone.
    """
    words = Say(facts.units).one(length)
    if length / pen.scale <= 8 + 2.1 * len(words):
        return
    half, face = float(facts.shape.span) / 2, float(wall.face)
    others = [float(at) for members in (wall.studs, wall.door_posts) for at, _ in members if float(at) != x]
    edges = [*others, -half + facts.hoop_pipe, half - facts.hoop_pipe]
    away = 1 if x >= 0 else -1
    door_post = any(float(at) == x for at, _ in wall.door_posts)
    for side in (away,) if door_post else (away, -away):
        near = min((abs(at - x) for at in edges if (at - x) * side > 0), default=0.0) - face
        # Two may stand in one gap.
        if near / pen.scale > 2 * (LETTER + 1.4):
            # Turned words stand to the left of their baseline.
            at = x + face / 2 + pen.mm(LETTER + 0.8) if side > 0 else x - face / 2 - pen.mm(0.8)
            pen.text(at, bottom + pen.mm(6), words, turned=True)
            return
