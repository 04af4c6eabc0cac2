"""Across the house: hoop, posts above and in the ground, purlins, boards, film."""

from __future__ import annotations

import math

from django.utils.translation import gettext, pgettext

from farmbuild.common.speaking import said
from farmbuild.drawings.bridge import Facts
from farmbuild.drawings.drawn.frame import core, frame
from farmbuild.drawings.pen import LETTER, Layer, Line, Pen
from farmbuild.drawings.view import Say, View
from farmbuild.measure.speech import gettext_noop as _

#: A person to see the size by: 5 ft 8 in.
_PERSON = 1727.2
#: mm of paper from the house to the first row of dimensions, and between rows.
_FIRST, _ROW = 9.0, 9.0
_PURLINS = {"ridge": _("ridge purlin"), "side": _("side purlin")}


def section(facts: Facts) -> View:
    return View(_("Section"), core(facts), (2 * _ROW + 8, 16, 3 * _ROW + 20, 12), lambda pen: _draw(pen, facts))


def _draw(pen: Pen, facts: Facts) -> None:
    drawn = facts.drawn
    half = float(facts.shape.span) / 2
    frame(pen, facts)
    for purlin in drawn.purlins:
        x, y = float(purlin.x), float(purlin.height)
        pen.circle(Layer.PURLINS, x, y, facts.purlin_pipe / 2)
        # Beside the centre line, which the ridge is on.
        beside = x or pen.mm(2)
        pen.text(beside, y - pen.mm(LETTER + 3), said(_PURLINS[purlin.name]), anchor="end" if x > 0 else "start")
    outside = max(facts.post_pipe, facts.hoop_pipe) / 2
    for board in drawn.boards:
        for x in (-half - facts.post_pipe / 2 - float(board.breadth), half + facts.post_pipe / 2):
            pen.rect(Layer.BOARDS, x, float(board.bottom), float(board.breadth), float(board.height), Line.CUT)
        outside = max(outside, facts.post_pipe / 2 + float(board.breadth))
    for name, y in _board_names(pen, facts):
        x = max(_inner_edge(facts, y), _inner_edge(facts, y + pen.mm(LETTER)))
        pen.text(x + pen.mm(2), y, said(name))
    _film(pen, facts, outside + pen.mm(0.8))
    _person(pen, facts, 0.2 * half)
    _dimensions(pen, facts)


def _board_names(pen: Pen, facts: Facts) -> list[tuple[str, float]]:
    """(name, baseline) beside the boards of each height; one for both where they lie close."""
    found = []
    for name in dict.fromkeys(board.name for board in facts.drawn.boards):
        boards = [board for board in facts.drawn.boards if board.name == name]
        low = min(float(board.bottom) for board in boards)
        high = max(float(board.bottom + board.height) for board in boards)
        # Over the line of the ground.
        found.append((name, max((low + high) / 2 - pen.mm(LETTER / 2), pen.mm(0.8))))
    if len(found) == 2 and abs(found[0][1] - found[1][1]) < pen.mm(2 * LETTER):
        return [(_("hip and base boards"), found[0][1])]
    return found


def _inner_edge(facts: Facts, y: float) -> float:
    """x of the inside of post and hoop at the left, at a height above the ground."""
    arc, half = facts.shape.arc, float(facts.shape.span) / 2
    up = y - float(facts.shape.foot_height) - arc.leg
    pipe = max(facts.post_pipe, facts.hoop_pipe)
    if up <= 0:
        return -half + pipe / 2
    over = arc.radius - (arc.rise - arc.leg) + up
    return -math.sqrt(max(0.0, arc.radius**2 - over**2)) + pipe


def _film(pen: Pen, facts: Facts, out: float) -> None:
    side = facts.drawn.sides
    if side is None:
        return
    half, foot = float(facts.shape.span) / 2, float(facts.shape.foot_height)
    for x in (-half - out, half + out):
        pen.line(Layer.FILM, x, foot, x, float(side.film_bottom), Line.THIN)
        if side.curtain_top is not None:
            pen.line(Layer.FILM, x, float(side.curtain_top), x, 0, Line.HIDDEN)


def _person(pen: Pen, facts: Facts, x: float) -> None:
    """Standing at ``x``; in a house that is lower there is none."""
    tall = _PERSON
    if facts.shape.ridge_height <= tall:
        return
    head, hip, shoulder = 0.065 * tall, 0.48 * tall, 0.81 * tall
    pen.circle(Layer.PERSON, x, tall - head, head, Line.THIN)
    pen.line(Layer.PERSON, x, tall - 2 * head, x, hip, Line.THIN)
    for side in (-1, 1):
        pen.line(Layer.PERSON, x, hip, x + side * 0.08 * tall, 0, Line.THIN)
        pen.line(Layer.PERSON, x, shoulder, x + side * 0.11 * tall, 0.45 * tall, Line.THIN)


def _dimensions(pen: Pen, facts: Facts) -> None:
    shape, say = facts.shape, Say(facts.units)
    half, ridge = float(shape.span) / 2, float(shape.ridge_height)
    above, depth, foot = float(shape.post_above), float(shape.post_depth), float(shape.foot_height)
    span = float(shape.span)
    pen.size(-half, -depth, half, -depth, -_FIRST, say.fit(pen, span, pgettext("on a drawing", "post span")))
    pen.line(Layer.CENTRE, 0, -pen.mm(5), 0, ridge + pen.mm(6), Line.CENTRE)
    pen.line(Layer.DIMENSIONS, -half, ridge, half, ridge, Line.THIN)
    pen.size(-half, 0, -half, ridge, 1.5 * _ROW, say.fit(pen, ridge, gettext("ridge")))
    pen.size(half, foot, half, ridge, -_FIRST - _ROW, say.fit(pen, float(shape.rise), gettext("rise")))
    if above:
        pen.size(half, 0, half, above, -_FIRST - 2 * _ROW, say.fit(pen, above))
    if depth:
        pen.size(half, -depth, half, 0, -_FIRST - 2 * _ROW, say.fit(pen, depth))
