"""How each side closes below the hoop: film down to the ground or to a board, a roll-up curtain, or left open.

A curtain hangs from the hip boards on each side and rolls up round a pipe with a crank (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from farmbuild.measure import TAPE_STEP
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import sentence
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
    SideClosing.BURIED: _("the ground"),
    SideClosing.BOARD: _("the middle of the base boards"),
    SideClosing.CURTAIN: _("the middle of the hip boards"),
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
    of_roll = sentence(", roll %(roll)s wide", roll=say(roll)) if roll is not None else ""
    working = sentence(
        "1 on each side, as long as the house: 2 x %(length)s; width needed %(fixed_at)s from "
        "the hip board to the ground + %(curtain_spare)s = %(curtain_width)s%(of_roll)s",
        length=say(spec.length),
        fixed_at=say(fixed_at(house)),
        curtain_spare=say(spec.curtain_spare),
        curtain_width=say(curtain_width(house)),
        of_roll=of_roll,
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
    yield house.counted("curtain cranks", spec.curtain_crank_material, 2, sentence("1 for the curtain on each side: 2"))
    working = sentence(
        "1 at each hoop on each side (common practice, no source): 2 x %(hoops)s = %(hoops_2)s",
        hoops=hoops,
        hoops_2=2 * hoops,
    )
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
        (SideClosing.BOARD, boards.base_boards(spec), _("base boards for the film to be fixed to")),
        (SideClosing.CURTAIN, boards.hip_boards(spec), _("hip boards for a curtain to hang from")),
    ):
        if spec.side_closing == closing and not heap.rows:
            yield SpecProblem(
                "side_closing",
                sentence(
                    "The house has no %(what)s. Type 1 row of them, or choose how else its sides close.",
                    what=sentence(what),
                ),
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
        sentence(
            "The film ends %(short)s above %(where)s: the ends of the hoop are %(foot_height)s above "
            "the ground. Type at least %(least)s, which takes film %(developed)s wide, or choose how "
            "else the sides close.",
            short=say(short),
            where=sentence(_WHERE[spec.side_closing]),
            foot_height=say(shape.foot_height),
            least=say(least),
            developed=say(shape.developed + 2 * least),
        ),
    )


def _curtain(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    film = house.materials[spec.curtain_film_material]
    wide = curtain_width(house)
    if film.width is None:
        yield SpecProblem(
            "curtain_film_material",
            sentence("%(film)s has no width. Type the width of its roll first.", film=film.name),
        )
    elif film.width < wide:
        yield SpecProblem(
            "curtain_film_material",
            sentence(
                "%(film)s is %(width)s wide; a curtain of %(fixed_at)s and %(curtain_spare)s to spare "
                "needs %(wide)s. Choose a wider film.",
                film=film.name,
                width=say(film.width),
                fixed_at=say(fixed_at(house)),
                curtain_spare=say(spec.curtain_spare),
                wide=say(wide),
            ),
        )
    yield from run_problems(
        house,
        spec.curtain_pipe_material,
        stick=spec.curtain_pipe_stick_length,
        insertion=spec.curtain_pipe_insertion,
        fields=("curtain_pipe_material", "curtain_pipe_insertion"),
        called=_("curtain pipe"),
    )


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    spec, say = house.spec, house.say
    if not spec.film_layers:
        return
    bottom = film_bottom(house)
    if spec.side_closing == SideClosing.OPEN and bottom > 0:
        yield SpecProblem(
            "side_closing",
            sentence(
                "Each side is left open on purpose: the film ends %(bottom)s above the ground. "
                "%(allowance_needed)s to spare would reach it.",
                bottom=say(bottom),
                allowance_needed=say(allowance_needed(house)),
            ),
        )
    if spec.side_closing == SideClosing.BURIED and -bottom < USUAL_BURIED:
        yield SpecProblem(
            "film_side_allowance",
            sentence(
                "The film reaches the ground with %(bottom)s to bury; %(usual_buried)s or more is usual "
                "(common practice, no source).",
                bottom=say(-bottom),
                usual_buried=say(USUAL_BURIED),
            ),
        )


_SAID = {
    SideClosing.BURIED: _("film to the ground, buried"),
    SideClosing.BOARD: _("film on the base boards"),
    SideClosing.CURTAIN: _("roll-up curtains below the hip boards"),
    SideClosing.OPEN: _("left open on purpose"),
}


def said(house: SpecContext) -> str:
    """Nothing closes the sides of a house without film."""
    return sentence(_SAID[house.spec.side_closing]) if house.spec.film_layers else NONE


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
        words = sentence("curtain %(fixed_at)s", fixed_at=say(fixed_at(house)))
    elif spec.side_closing == SideClosing.BOARD:
        words = sentence("film to the base board")
    else:
        words = sentence("open %(bottom)s", bottom=say(bottom)) if bottom > 0 else sentence("film to the ground")
    return Side(
        words=words,
        film_bottom=max(bottom, _GROUND),
        curtain_top=fixed_at(house) if has_curtains(house) else None,
        needed=allowance_needed(house),
        curtain_width=curtain_width(house) if has_curtains(house) else _GROUND,
    )
