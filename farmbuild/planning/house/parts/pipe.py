"""Pipe: hoops, ground posts, joined purlins and corner braces."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import Work
from farmbuild.planning.house.shape import ceil_ratio
from farmbuild.planning.results import TakeoffRow


def joined_sticks(run: Decimal, stick: Decimal, insertion: Decimal) -> int:
    """Whole sticks that make a run when each slides ``insertion`` into the next: n L - (n - 1) s >= run."""
    if run <= stick:
        return 1
    return ceil_ratio(run - insertion, stick - insertion)


def hoops(work: Work) -> list[TakeoffRow]:
    recipe, shape = work.spec.recipe, work.shape
    total = shape.hoops * recipe.sticks
    working = (
        f"{work.say(shape.length)} at no more than {work.say(work.spec.spacing_wanted)} makes"
        f" {count_noun(shape.bays, 'bay')} of {work.say(shape.spacing)}, so {shape.hoops} hoops;"
        f" {count_noun(recipe.sticks, 'whole stick')} of {work.say(recipe.stick_length)} a hoop:"
        f" {shape.hoops} x {recipe.sticks} = {total}"
    )
    return [TakeoffRow(work.house.ref, "hoops", recipe.tube, recipe.stick_length, total, "sticks", True, working)]


def ground_posts(work: Work) -> list[TakeoffRow]:
    spec, shape = work.spec, work.shape
    if not spec.post_material:
        return []
    working = (
        f"2 posts a hoop: 2 x {shape.hoops} = {2 * shape.hoops}, each {work.say(spec.post_length)},"
        f" {work.say(spec.post_depth)} of it in the ground"
    )
    length = work.saw(spec.post_length)
    return [work.pieces("ground posts", spec.post_material, length, 2 * shape.hoops, working)]


def purlin_joints(work: Work) -> int:
    """Joints in all purlins of the house."""
    spec = work.spec
    if not spec.purlin_material:
        return 0
    n = joined_sticks(spec.length, spec.purlin_stick_length, spec.purlin_insertion)
    return (n - 1) * (spec.ridge_purlins + spec.side_purlins)


def purlins(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    if not spec.purlin_material:
        return []
    rows = []
    for purpose, count in (("ridge purlins", spec.ridge_purlins), ("side purlins", spec.side_purlins)):
        if count:
            rows.append(_purlin_row(work, purpose, count))
    return rows


def _purlin_row(work: Work, purpose: str, count: int) -> TakeoffRow:
    spec = work.spec
    run, stick, slide = spec.length, spec.purlin_stick_length, spec.purlin_insertion
    n = joined_sticks(run, stick, slide)
    if n == 1:
        working = (
            f"{count_noun(count, 'run')} of {work.say(run)}, the length of the house,"
            f" each one piece of a {work.say(stick)} stick"
        )
        return work.pieces(purpose, spec.purlin_material, work.saw(run), count, working)
    made = n * stick - (n - 1) * slide
    trim = made - run
    working = (
        f"({work.say(run)} - {work.say(slide)}) / ({work.say(stick)} - {work.say(slide)}), rounded up, is"
        f" {count_noun(n, 'stick')} with {count_noun(n - 1, 'joint')} of {work.say(slide)}, {work.say(made)} long;"
        f" {count_noun(count, 'run')}: {n} x {count} = {n * count}"
    )
    if trim > 0:
        working += f"; saw {work.say(trim)} off the plain end of the last stick of each run"
    return TakeoffRow(
        house=work.house.ref,
        purpose=purpose,
        material=spec.purlin_material,
        length=stick,
        quantity=n * count,
        unit="sticks",
        whole=True,
        working=working,
        trim=trim,
        trims=count if trim > 0 else 0,
    )


def braces(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    if not (spec.brace_material and spec.brace_count):
        return []
    working = f"{count_noun(spec.brace_count, 'brace')} of {work.say(spec.brace_length)} as the house spec says"
    length = work.saw(spec.brace_length)
    return [work.pieces("corner braces", spec.brace_material, length, spec.brace_count, working)]
