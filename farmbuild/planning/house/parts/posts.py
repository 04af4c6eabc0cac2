"""Ground posts: two a hoop, and the places for them marked in the ground."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import sentence
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
    working = sentence(
        "2 posts a hoop: 2 x %(hoops)s = %(hoops_2)s, each %(post_length)s, %(post_depth)s of it in the ground",
        hoops=hoops,
        hoops_2=2 * hoops,
        post_length=house.say(spec.post_length),
        post_depth=house.say(spec.post_depth),
    )
    found = [house.pieces("ground posts", spec.post_material, spec.post_length, 2 * hoops, working)]
    if spec.post_stop_material:
        working = sentence(
            "1 in each post, to stop the hoop %(post_socket_depth)s deep: %(hoops)s",
            post_socket_depth=house.say(spec.post_socket_depth),
            hoops=2 * hoops,
        )
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
            sentence(
                "A ground post of %(post_length)s set %(post_depth)s deep leaves nothing above the "
                "ground. Type more than %(post_depth)s.",
                post_length=say(spec.post_length),
                post_depth=say(spec.post_depth),
            ),
        )
    elif spec.post_socket_depth >= above:
        yield SpecProblem(
            "post_socket_depth",
            sentence(
                "A ground post stands %(above)s above the ground, so no hoop stands "
                "%(post_socket_depth)s deep in it. Type less than %(above)s.",
                above=say(above),
                post_socket_depth=say(spec.post_socket_depth),
            ),
        )
    inside = _outer(house).bore
    outside = _inner(house).width
    if inside is not None and outside is not None and inside < outside:
        way, other = (sentence("over"), sentence("in")) if spec.hoop_over_post else (sentence("in"), sentence("over"))
        yield SpecProblem(
            "post_material",
            sentence(
                "The hoop cannot stand %(way)s its post: %(name)s is %(inside)s wide inside, and "
                "%(name_2)s %(outside)s outside. Choose another tube, or let the hoop stand %(other)s "
                "the post.",
                way=way,
                name=_outer(house).name,
                inside=house.say_size(max(inside, Decimal(0))),
                name_2=_inner(house).name,
                outside=house.say_size(outside),
                other=other,
            ),
        )


def _without_posts(house: SpecContext) -> Iterator[SpecProblem]:
    spec = house.spec
    if spec.post_socket_depth:
        yield SpecProblem(
            "post_socket_depth", sentence("The house has no ground posts for a hoop to stand in. Type 0.")
        )
    if spec.hoop_over_post:
        yield SpecProblem(
            "hoop_over_post", sentence("The house has no ground posts for a hoop to slide over. Take the tick out.")
        )
    if spec.post_stop_material:
        yield SpecProblem(
            "post_stop_material", sentence("The house has no ground posts for a stop to sit in. Choose none.")
        )


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
            sentence(
                "Whether %(inner)s goes into %(outer)s cannot be checked: the catalogue lacks a size of "
                "one of them. Try one hoop on one post first.",
                inner=inner.name,
                outer=outer.name,
            ),
        )
    elif (play := inside - inner.width) > MAX_PLAY:
        yield SpecProblem(
            "post_material",
            sentence(
                "The hoop stands loose: %(outer)s is %(inside)s wide inside, %(inner)s %(width)s "
                "outside. The play is %(play)s; up to %(max_play)s is usual (common practice, no source).",
                outer=outer.name,
                inside=say(inside),
                inner=inner.name,
                width=say(inner.width),
                play=say(play),
                max_play=say(MAX_PLAY),
            ),
        )
    if not spec.post_socket_depth:
        yield SpecProblem(
            "post_socket_depth",
            sentence(
                "The spec says no socket depth, so all heights are those of a hoop that stands on top of "
                "its posts. Usual are %(usual_socket)s to %(usual_socket_2)s (common practice, no "
                "source).",
                usual_socket=house.say(USUAL_SOCKET[0]),
                usual_socket_2=house.say(USUAL_SOCKET[1]),
            ),
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
    return 2 * hoops, sentence(
        "2 feet a hoop to mark in the ground: 2 x %(hoops)s hoops = %(hoops_2)s", hoops=hoops, hoops_2=2 * hoops
    )


def _posts(house: HouseContext) -> tuple[int, str]:
    found = rows(house)[:1]
    return quantity_of(found), workings_of(found) or sentence("The house has no ground posts.")


def _said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.post_material:
        return NONE
    words = sentence(
        "%(post_material)s, %(post_length)s long",
        post_material=house.name_of(spec.post_material),
        post_length=house.say(spec.post_length),
    )
    return (
        sentence("%(words)s, %(post_depth)s in the ground", words=words, post_depth=house.say(spec.post_depth))
        if spec.post_depth
        else words
    )


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
