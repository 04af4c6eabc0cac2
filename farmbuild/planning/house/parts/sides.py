"""How each side closes below the hoop: film down to the ground or to a board, a roll-up curtain, or left open.

A curtain hangs from the hip boards on each side and rolls up round a pipe with a crank (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from farmbuild.measure import TAPE_STEP
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import NONE, WorkKind
from farmbuild.planning.house.parts import boards
from farmbuild.planning.house.parts.purlins import joined_sticks, run_problems, run_row
from farmbuild.planning.house.spec import SideClosing
from farmbuild.planning.results import TakeoffRow

#: Film that is buried runs on under the ground by this (common practice, no source): 6 in.
USUAL_BURIED = Decimal("152.4")
PURPOSES = {
    "side curtains": (WorkKind.FILM,),
    "curtain pipes": (WorkKind.FILM,),
    "curtain cranks": (WorkKind.FILM,),
    "curtain guides": (WorkKind.FILM,),
}
_GROUND = Decimal(0)
_WHERE = {
    SideClosing.BURIED: "the ground",
    SideClosing.BOARD: "the middle of the base boards",
    SideClosing.CURTAIN: "the middle of the hip boards",
}


def has_curtains(house: HouseContext) -> bool:
    return house.spec.side_closing == SideClosing.CURTAIN


def fixed_at(house: HouseContext) -> Decimal:
    """Height above the ground to which the film over the house comes down, mm: it is fixed half-way up its boards."""
    spec = house.spec
    if spec.side_closing == SideClosing.BOARD:
        return boards.stack_height(house, boards.base_boards(spec)) / 2
    if spec.side_closing == SideClosing.CURTAIN:
        return max(house.shape.post_above - boards.stack_height(house, boards.hip_boards(spec)) / 2, _GROUND)
    return _GROUND


def allowance_needed(house: HouseContext) -> Decimal:
    """Film to spare at each side that reaches so far down from the ends of the hoop; what a tape shows, mm."""
    step = TAPE_STEP[house.units]
    run = max(house.shape.foot_height - fixed_at(house), _GROUND)
    return (run / step).to_integral_value(ROUND_CEILING) * step


def film_bottom(house: HouseContext) -> Decimal:
    """Height above the ground at which the film over the house ends, mm; below 0: so much of it is buried."""
    return house.shape.foot_height - house.spec.film_side_allowance


def curtain_width(house: HouseContext) -> Decimal:
    return fixed_at(house) + house.spec.curtain_spare


# What it takes


def rows(house: HouseContext) -> Iterator[TakeoffRow]:
    if not has_curtains(house):
        return
    spec, say, hoops = house.spec, house.say, house.shape.hoops
    roll = house.materials[spec.curtain_film_material].width
    of_roll = f", roll {say(roll)} wide" if roll is not None else ""
    working = (
        f"1 on each side, as long as the house: 2 x {say(spec.length)}; width needed {say(fixed_at(house))} from the"
        f" hip board to the ground + {say(spec.curtain_spare)} = {say(curtain_width(house))}{of_roll}"
    )
    yield house.pieces("side curtains", spec.curtain_film_material, spec.length, 2, working)
    yield run_row(
        house,
        "curtain pipes",
        spec.curtain_pipe_material,
        stick=spec.curtain_pipe_stick_length,
        insertion=spec.curtain_pipe_insertion,
        count=2,
    )
    yield house.counted("curtain cranks", spec.curtain_crank_material, 2, "1 for the curtain on each side: 2")
    working = f"1 at each hoop on each side (common practice, no source): 2 x {hoops} = {2 * hoops}"
    yield house.counted("curtain guides", spec.curtain_guide_material, 2 * hoops, working)


def joints(house: HouseContext) -> int:
    """In the pipes of both curtains."""
    spec = house.spec
    if not has_curtains(house):
        return 0
    return 2 * (joined_sticks(spec.length, spec.curtain_pipe_stick_length, spec.curtain_pipe_insertion) - 1)


# Checks


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    """Of a house with film."""
    spec = house.spec
    for closing, heap, what in (
        (SideClosing.BOARD, boards.base_boards(spec), "base boards for the film to be fixed to"),
        (SideClosing.CURTAIN, boards.hip_boards(spec), "hip boards for a curtain to hang from"),
    ):
        if spec.side_closing == closing and not heap.rows:
            yield SpecProblem(
                "side_closing", f"The house has no {what}. Type 1 row of them, or choose how else its sides close."
            )
            return
    yield from _reach(house)
    if has_curtains(house):
        yield from _curtain(house)


def _reach(house: HouseContext) -> Iterator[SpecProblem]:
    spec, shape, say = house.spec, house.shape, house.say
    least = allowance_needed(house)
    if spec.side_closing == SideClosing.OPEN or shape.foot_height - spec.film_side_allowance <= fixed_at(house):
        return
    short = film_bottom(house) - fixed_at(house)
    yield SpecProblem(
        "film_side_allowance",
        f"The film ends {say(short)} above {_WHERE[spec.side_closing]}: the ends of the hoop are"
        f" {say(shape.foot_height)} above the ground. Type at least {say(least)}, which takes film"
        f" {say(shape.developed + 2 * least)} wide, or choose how else the sides close.",
    )


def _curtain(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    film = house.materials[spec.curtain_film_material]
    wide = curtain_width(house)
    if film.width is None:
        yield SpecProblem("curtain_film_material", f"{film.name} has no width. Type the width of its roll first.")
    elif film.width < wide:
        yield SpecProblem(
            "curtain_film_material",
            f"{film.name} is {say(film.width)} wide; a curtain of {say(fixed_at(house))} and {say(spec.curtain_spare)}"
            f" to spare needs {say(wide)}. Choose a wider film.",
        )
    yield from run_problems(
        house,
        spec.curtain_pipe_material,
        stick=spec.curtain_pipe_stick_length,
        insertion=spec.curtain_pipe_insertion,
        fields=("curtain_pipe_material", "curtain_pipe_insertion"),
        called="curtain pipe",
    )


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    if not spec.film_layers:
        return
    bottom = film_bottom(house)
    if spec.side_closing == SideClosing.OPEN and bottom > 0:
        yield SpecProblem(
            "side_closing",
            f"Each side is left open on purpose: the film ends {say(bottom)} above the ground."
            f" {say(allowance_needed(house))} to spare would reach it.",
        )
    if spec.side_closing == SideClosing.BURIED and -bottom < USUAL_BURIED:
        yield SpecProblem(
            "film_side_allowance",
            f"The film reaches the ground with {say(-bottom)} to bury; {say(USUAL_BURIED)} or more is usual"
            " (common practice, no source).",
        )


_SAID = {
    SideClosing.BURIED: "film to the ground, buried",
    SideClosing.BOARD: "film on the base boards",
    SideClosing.CURTAIN: "roll-up curtains below the hip boards",
    SideClosing.OPEN: "left open on purpose",
}


def said(house: SpecContext) -> str:
    """Nothing closes the sides of a house without film."""
    return _SAID[house.spec.side_closing] if house.spec.film_layers else NONE


@dataclass(frozen=True)
class Side:
    """What is drawn of each side, mm above the ground: where the film ends, and from where a curtain hangs down to it.

    ``needed``: film to spare that reaches so far; ``curtain_width`` is 0 without a curtain.
    """

    words: str
    film_bottom: Decimal
    curtain_top: Decimal | None
    needed: Decimal
    curtain_width: Decimal


def drawn(house: HouseContext) -> Side | None:
    """None for a house without film."""
    spec, bottom, say = house.spec, film_bottom(house), house.say
    if not (spec.film_material and spec.film_layers):
        return None
    if spec.side_closing == SideClosing.CURTAIN:
        words = f"curtain {say(fixed_at(house))}"
    elif spec.side_closing == SideClosing.BOARD:
        words = "film to the base board"
    else:
        words = f"open {say(bottom)}" if bottom > 0 else "film to the ground"
    return Side(
        words=words,
        film_bottom=max(bottom, _GROUND),
        curtain_top=fixed_at(house) if has_curtains(house) else None,
        needed=allowance_needed(house),
        curtain_width=curtain_width(house) if has_curtains(house) else _GROUND,
    )
