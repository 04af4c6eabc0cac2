"""Ground posts: two a hoop, and the places for them marked in the ground."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import Part, PartWork, WorkKind, quantity_of, workings_of
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow

#: Drawn where the catalogue gives none: 1-5/8 in pipe.
DRAWN_PIPE = Decimal("41.275")
#: A tube with more room than this around it is loose (common practice, no source): 1/4 in.
MAX_PLAY = Decimal("6.35")


def rows(house: HouseContext) -> list[TakeoffRow]:
    spec, hoops = house.spec, house.shape.hoops
    if not spec.post_material:
        return []
    working = (
        f"2 posts a hoop: 2 x {hoops} = {2 * hoops}, each {house.say(spec.post_length)},"
        f" {house.say(spec.post_depth)} of it in the ground"
    )
    return [house.pieces("ground posts", spec.post_material, spec.post_length, 2 * hoops, working)]


def sizes(house: SpecContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    if spec.post_material and spec.post_length <= spec.post_depth:
        yield SpecProblem(
            "post_length",
            f"A ground post of {say(spec.post_length)} set {say(spec.post_depth)} deep leaves nothing above"
            f" the ground. Type more than {say(spec.post_depth)}.",
        )


def bore(tube: Material) -> Decimal | None:
    """Inside diameter, mm; None where the catalogue lacks a size."""
    if tube.width is None or tube.thickness is None:
        return None
    return tube.width - 2 * tube.thickness


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    if not spec.post_material:
        return
    post, hoop = house.materials[spec.post_material], house.materials[spec.recipe.tube]
    inside = bore(post)
    if inside is None or hoop.width is None:
        yield SpecProblem(
            "post_material",
            f"Whether {hoop.name} goes into {post.name} cannot be checked: the catalogue lacks a size of one of them."
            " Try one stick in one post first.",
        )
    elif (play := inside - hoop.width) > MAX_PLAY:
        yield SpecProblem(
            "post_material",
            f"The hoop stands loose: {post.name} is {say(inside)} wide inside, {hoop.name} {say(hoop.width)} outside."
            f" The play is {say(play)}; up to {say(MAX_PLAY)} is usual (common practice, no source).",
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
    found = rows(house)
    return quantity_of(found), workings_of(found) or "The house has no ground posts."


PART = Part(
    rows=rows,
    purposes={"ground posts": (WorkKind.POSTS, WorkKind.SET)},
    sizes=sizes,
    remarks=remarks,
    works=(
        PartWork(WorkKind.SURVEY, ("hoop foot", "hoop feet"), _survey),
        PartWork(WorkKind.POSTS, ("post", "posts"), _posts),
    ),
)
