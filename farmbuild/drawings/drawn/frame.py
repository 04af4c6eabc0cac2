"""What section and ends share: posts in the ground, and the hoop as set over them. x from the middle of the house."""

from __future__ import annotations

from farmbuild.drawings.bridge import Facts
from farmbuild.drawings.pen import Layer, Line, Pen, arc_bulge


def hoop_path(facts: Facts) -> list[tuple[float, float, float]]:
    """Centre line of the hoop as set, from its left end to its right."""
    arc, foot = facts.shape.arc, float(facts.shape.foot_height)
    half = arc.span / 2
    bulge = arc_bulge(2 * arc.half_angle)
    if not arc.leg:
        return [(-half, foot, bulge), (half, foot, 0.0)]
    top = foot + arc.leg
    return [(-half, foot, 0.0), (-half, top, bulge), (half, top, 0.0), (half, foot, 0.0)]


def frame(pen: Pen, facts: Facts) -> None:
    shape = facts.shape
    half = float(shape.span) / 2
    pen.ground(-half - pen.mm(14), half + pen.mm(14))
    if facts.drawn.post_outside is not None:
        for x in (-half, half):
            ends = [(x, -float(shape.post_depth)), (x, float(shape.post_above))]
            pen.bar(Layer.POSTS, ends, facts.post_pipe)
    pen.bar(Layer.PIPE, hoop_path(facts), facts.hoop_pipe, line=Line.CUT, centred=True)


def core(facts: Facts) -> tuple[float, float, float, float]:
    shape = facts.shape
    half = float(shape.span) / 2 + max(facts.post_pipe, facts.hoop_pipe) / 2
    return -half, -float(shape.post_depth), half, float(shape.ridge_height) + facts.hoop_pipe / 2
