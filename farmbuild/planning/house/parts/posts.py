"""Ground posts: two a hoop, and the places for them marked in the ground."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.measure.speech import gettext_noop as _
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import NONE, Part, PartWork, WorkKind, quantity_of, workings_of
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow

#: Drawn where the catalogue gives none: 1-5/8 in pipe.
DRAWN_PIPE = Decimal("41.275")
#: A tube with more room than this around it is loose (common practice, no source): 1/4 in.
MAX_PLAY = Decimal("6.35")
#: How deep a hoop stands in its post (common practice, no source): 4 in in small conduit, 6 in in rail.
USUAL_SOCKET = (Decimal("101.6"), Decimal("152.4"))


def rows(house: HouseContext) -> list[TakeoffRow]:
    spec, hoops = house.spec, house.shape.hoops
    if not spec.post_material:
        return []
    working = (
        f"2 posts a hoop: 2 x {hoops} = {2 * hoops}, each {house.say(spec.post_length)},"
        f" {house.say(spec.post_depth)} of it in the ground"
    )
    found = [house.pieces("ground posts", spec.post_material, spec.post_length, 2 * hoops, working)]
    if spec.post_stop_material:
        working = f"1 in each post, to stop the hoop {house.say(spec.post_socket_depth)} deep: {2 * hoops}"
        found.append(house.counted("hoop stops", spec.post_stop_material, 2 * hoops, working))
    return found


def sizes(house: SpecContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    if not spec.post_material:
        yield from _without_posts(house)
        return
    above = spec.post_length - spec.post_depth
    if above <= 0:
        yield SpecProblem(
            "post_length",
            f"A ground post of {say(spec.post_length)} set {say(spec.post_depth)} deep leaves nothing above"
            f" the ground. Type more than {say(spec.post_depth)}.",
        )
    elif spec.post_socket_depth >= above:
        yield SpecProblem(
            "post_socket_depth",
            f"A ground post stands {say(above)} above the ground, so no hoop stands {say(spec.post_socket_depth)} deep"
            f" in it. Type less than {say(above)}.",
        )
    inside = _outer(house).bore
    outside = _inner(house).width
    if inside is not None and outside is not None and inside < outside:
        way, other = ("over", "in") if spec.hoop_over_post else ("in", "over")
        yield SpecProblem(
            "post_material",
            f"The hoop cannot stand {way} its post: {_outer(house).name} is {house.say_size(max(inside, Decimal(0)))}"
            f" wide inside, and {_inner(house).name} {house.say_size(outside)} outside. Choose another tube, or let the"
            f" hoop stand {other} the post.",
        )


def _without_posts(house: SpecContext) -> Iterator[SpecProblem]:
    spec = house.spec
    if spec.post_socket_depth:
        yield SpecProblem("post_socket_depth", "The house has no ground posts for a hoop to stand in. Type 0.")
    if spec.hoop_over_post:
        yield SpecProblem(
            "hoop_over_post", "The house has no ground posts for a hoop to slide over. Take the tick out."
        )
    if spec.post_stop_material:
        yield SpecProblem("post_stop_material", "The house has no ground posts for a stop to sit in. Choose none.")


def _outer(house: SpecContext) -> Material:
    """The tube that takes the other, where hoop and post meet."""
    spec = house.spec
    return house.materials[spec.recipe.tube if spec.hoop_over_post else spec.post_material]


def _inner(house: SpecContext) -> Material:
    spec = house.spec
    return house.materials[spec.post_material if spec.hoop_over_post else spec.recipe.tube]


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say_size
    if not spec.post_material:
        return
    outer, inner = _outer(house), _inner(house)
    inside = outer.bore
    if inside is None or inner.width is None:
        yield SpecProblem(
            "post_material",
            f"Whether {inner.name} goes into {outer.name} cannot be checked: the catalogue lacks a size of one of"
            " them. Try one hoop on one post first.",
        )
    elif (play := inside - inner.width) > MAX_PLAY:
        yield SpecProblem(
            "post_material",
            f"The hoop stands loose: {outer.name} is {say(inside)} wide inside, {inner.name} {say(inner.width)}"
            f" outside. The play is {say(play)}; up to {say(MAX_PLAY)} is usual (common practice, no source).",
        )
    if not spec.post_socket_depth:
        yield SpecProblem(
            "post_socket_depth",
            "The spec says no socket depth, so all heights are those of a hoop that stands on top of its posts."
            f" Usual are {house.say(USUAL_SOCKET[0])} to {house.say(USUAL_SOCKET[1])} (common practice, no source).",
        )


def outside(house: HouseContext) -> Decimal | None:
    """Outside diameter of a post as drawn, mm; None for a house without posts."""
    code = house.spec.post_material
    return (house.materials[code].width or DRAWN_PIPE) if code else None


def foot_outside(house: HouseContext) -> Decimal | None:
    """Outside diameter of what stands at each foot of a hoop, the post or else the hoop; None where unknown. mm."""
    spec = house.spec
    return house.materials[spec.post_material or spec.recipe.tube].width


def _survey(house: HouseContext) -> tuple[int, str]:
    hoops = house.shape.hoops
    return 2 * hoops, f"2 feet a hoop to mark in the ground: 2 x {hoops} hoops = {2 * hoops}"


def _posts(house: HouseContext) -> tuple[int, str]:
    found = rows(house)[:1]
    return quantity_of(found), workings_of(found) or "The house has no ground posts."


def _said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.post_material:
        return NONE
    words = f"{house.name_of(spec.post_material)}, {house.say(spec.post_length)} long"
    return f"{words}, {house.say(spec.post_depth)} in the ground" if spec.post_depth else words


PART = Part(
    rows=rows,
    purposes={"ground posts": (WorkKind.SAW, WorkKind.POSTS, WorkKind.SET), "hoop stops": (WorkKind.SET,)},
    sizes=sizes,
    remarks=remarks,
    works=(
        PartWork(WorkKind.SURVEY, (_("hoop foot"), _("hoop feet")), _survey),
        PartWork(WorkKind.POSTS, (_("post"), _("posts")), _posts),
    ),
    said={"Ground posts": _said},
)
