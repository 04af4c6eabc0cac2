"""How pipe is joined: a swage or a sleeve with its screws in the side, and a hoop in its post."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.drawings.bridge import DRAWN_PIPE, Facts, Joint, Material
from farmbuild.drawings.pen import Layer, Line, Pen
from farmbuild.drawings.view import Say, View
from farmbuild.measure.speech import gettext_noop as _

#: Breadth of a swaged end over that of its pipe, where the catalogue has no wall (drawn so, no source).
_SWAGED = 0.86
#: Of a screw head as drawn, mm: about 5/16 in (common practice, no source).
_HEAD_RADIUS = 4.0


@dataclass(frozen=True)
class _Pipes:
    """Two sticks in line and what joins them; mm. ``sleeve`` is None at a swage."""

    facts: Facts
    tube: Material
    sleeve: Material | None
    inner: bool
    reach: float
    screws: int

    @property
    def across(self) -> float:
        return float(self.tube.width or DRAWN_PIPE)

    @property
    def other(self) -> float:
        """Breadth of the swage or of the sleeve."""
        if self.sleeve is not None:
            return float(self.sleeve.width or DRAWN_PIPE)
        return float(self.tube.bore) if self.tube.bore else self.across * _SWAGED


def joints(facts: Facts) -> list[View]:
    """Those that the house has: of its hoops, of its purlins, and of a hoop in its post."""
    return [view for view in (_of_hoops(facts), _of_purlins(facts), _foot(facts)) if view is not None]


def _of_hoops(facts: Facts) -> View | None:
    recipe, spec = facts.spec.recipe, facts.spec
    if recipe.sticks < 2:
        return None
    sleeve = facts.materials.get(recipe.sleeve_material) if recipe.sleeved else None
    reach = recipe.sleeve_length if recipe.sleeved else recipe.insertion
    screws = recipe.sleeve_screws if recipe.sleeved else spec.screws_per_joint if spec.screw_material else 0
    tube = facts.materials[recipe.tube]
    return _view(_("Joint of a hoop"), _Pipes(facts, tube, sleeve, recipe.joint is Joint.INNER, float(reach), screws))


def _of_purlins(facts: Facts) -> View | None:
    spec = facts.spec
    runs = spec.ridge_purlins + spec.side_purlins
    if not (spec.purlin_material and runs and spec.purlin_stick_length < spec.length):
        return None
    sleeved = spec.purlin_joint in (Joint.INNER, Joint.OUTER)
    sleeve = facts.materials.get(spec.purlin_sleeve_material) if sleeved else None
    reach = spec.purlin_sleeve_length if sleeved else spec.purlin_insertion
    screws = spec.purlin_sleeve_screws if sleeved else spec.screws_per_joint if spec.screw_material else 0
    tube = facts.materials[spec.purlin_material]
    pipes = _Pipes(facts, tube, sleeve, spec.purlin_joint is Joint.INNER, float(reach), screws)
    return _view(_("Joint of a purlin"), pipes)


def _view(name: str, pipes: _Pipes) -> View | None:
    if not pipes.reach:
        return None
    long, high = 3.2 * pipes.reach, max(pipes.across, pipes.other) / 2
    return View(name, (-long / 2, -high, long / 2, high), (4, 26, 4, 22), lambda pen: _pipes(pen, pipes))


def _pipes(pen: Pen, pipes: _Pipes) -> None:
    say, reach, long = Say(pipes.facts.units), pipes.reach, 1.6 * pipes.reach
    high, top = pipes.across / 2, max(pipes.across, pipes.other) / 2
    if pipes.sleeve is None:
        # The left stick ends where the right one begins; the swage of the right one lies in it.
        left, right = -reach / 2, reach / 2
        pen.bar(Layer.PIPE, [(-long, 0), (right, 0)], pipes.across, line=Line.CUT)
        pen.bar(Layer.PIPE, [(right, 0), (long, 0)], pipes.across, line=Line.CUT)
        pen.bar(Layer.PIPE, [(left, 0), (right, 0)], pipes.other, line=Line.HIDDEN)
        pen.size(left, -high, right, -high, -9, say.fit(pen, reach, gettext("insertion")))
        words = gettext("Two sticks of %(tube)s; the swaged end slides in.") % {"tube": pipes.tube.name}
        pen.text(-long, -top - pen.mm(17), words)
    else:
        pen.bar(Layer.PIPE, [(-long, 0), (0, 0)], pipes.across, line=Line.CUT)
        pen.bar(Layer.PIPE, [(0, 0), (long, 0)], pipes.across, line=Line.CUT)
        line = Line.HIDDEN if pipes.inner else Line.CUT
        pen.bar(Layer.PIPE, [(-reach / 2, 0), (reach / 2, 0)], pipes.other, line=line)
        pen.size(-reach / 2, -top, reach / 2, -top, -9, say.fit(pen, reach, gettext("sleeve")))
        words = (
            gettext("Two sticks of %(tube)s butt; %(sleeve)s inside both, half in either.")
            if pipes.inner
            else gettext("Two sticks of %(tube)s butt; %(sleeve)s over both, half in either.")
        )
        pen.text(-long, -top - pen.mm(17), words % {"tube": pipes.tube.name, "sleeve": pipes.sleeve.name})
    for x in _screws(pipes):
        pen.circle(Layer.SCREWS, x, 0, _HEAD_RADIUS, Line.CUT)
        pen.line(Layer.SCREWS, x - _HEAD_RADIUS, 0, x + _HEAD_RADIUS, 0, Line.THIN)
        pen.line(Layer.SCREWS, x, -_HEAD_RADIUS, x, _HEAD_RADIUS, Line.THIN)
    if pipes.facts.drawn.sides is not None:
        pen.line(Layer.FILM, -long, top + pen.mm(4), long, top + pen.mm(4), Line.THIN)
        pen.text(long, top + pen.mm(5.5), gettext("film runs over here"), anchor="end")
    if pipes.screws:
        words = gettext("%(screws)s in the side, never on top (common practice, no source)")
        pen.text(-long, top + pen.mm(11), words % {"screws": said_count(pipes.screws, "screw")})


def _screws(pipes: _Pipes) -> list[float]:
    """Evenly along the swage; at a sleeve as many in either stick, the odd one in the left."""
    reach, count = pipes.reach, pipes.screws
    if pipes.sleeve is None:
        return [-reach / 2 + reach * (n + 1) / (count + 1) for n in range(count)]
    half, left, right = reach / 2, (count + 1) // 2, count // 2
    return [
        *(-half * (n + 1) / (left + 1) for n in range(left)),
        *(half * (n + 1) / (right + 1) for n in range(right)),
    ]


def _foot(facts: Facts) -> View | None:
    if facts.drawn.post_outside is None:
        return None
    shape = facts.shape
    broad = max(facts.post_pipe, facts.hoop_pipe) / 2
    above = float(shape.post_above)
    top = above + max(float(shape.socket_depth), 0.25 * above)
    core = (-broad, -float(shape.post_depth), broad, top)
    return View(_("Foot of a hoop"), core, (34, 10, 42, 12), lambda pen: _post(pen, facts, top))


def _post(pen: Pen, facts: Facts, top: float) -> None:
    shape, say = facts.shape, Say(facts.units)
    above, depth, foot = float(shape.post_above), float(shape.post_depth), float(shape.foot_height)
    half = max(facts.post_pipe, facts.hoop_pipe) / 2
    pen.ground(-half - pen.mm(14), half + pen.mm(14))
    pen.bar(Layer.POSTS, [(0, -depth), (0, above)], facts.post_pipe, line=Line.CUT)
    over = facts.drawn.over_post
    if foot < above:
        pen.bar(Layer.PIPE, [(0, foot), (0, above)], facts.hoop_pipe, line=Line.CUT if over else Line.HIDDEN)
    pen.bar(Layer.PIPE, [(0, above), (0, top)], facts.hoop_pipe, line=Line.CUT)
    if foot < above:
        pen.size(half, foot, half, above, -8, say.one(above - foot))
        words = gettext("hoop over its post") if over else gettext("hoop in its post")
        pen.text(half + pen.mm(3), top - pen.mm(1), words)
    pen.size(-half, 0, -half, above, 12, say.fit(pen, above))
    if depth:
        pen.size(-half, -depth, -half, 0, 12, say.fit(pen, depth))
