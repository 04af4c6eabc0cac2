"""Film, and the channel that holds it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import HouseContext, SpecProblem
from farmbuild.planning.house.part import Part, PartWork, WorkKind
from farmbuild.planning.house.shape import ceil_ratio
from farmbuild.planning.results import TakeoffRow

#: Film is counted in feet in every country, so that a rate means the same whatever units a reader has chosen.
FOOT = Decimal("304.8")


def rows(house: HouseContext) -> list[TakeoffRow]:
    return [*_film(house), *_channel(house)]


def _film(house: HouseContext) -> Iterator[TakeoffRow]:
    """Sheets over the house, and one sheet for each framed end wall, laid with the roll's width upright."""
    spec, shape = house.spec, house.shape
    if not (spec.film_material and spec.film_layers):
        return
    side, end = spec.film_side_allowance, spec.film_end_allowance
    roll = house.materials[spec.film_material].width
    wide = shape.developed + 2 * side
    long = house.saw(spec.length + 2 * end)
    of_roll = f", roll {house.say(roll)} wide" if roll is not None else ""
    working = (
        f"{count_noun(spec.film_layers, 'layer')} of {house.say(spec.length)} + 2 x {house.say(end)} ="
        f" {house.say(long)};"
        f" width needed {house.say(shape.developed)} of hoop + 2 x {house.say(side)} ="
        f" {house.say(wide)}{of_roll}"
    )
    yield house.pieces("film over the house", spec.film_material, long, spec.film_layers, working)
    if spec.end_walls:
        across = house.saw(spec.post_span + 2 * side)
        working = (
            f"1 sheet for each of {count_noun(spec.end_walls, 'framed end wall')}, across the wall:"
            f" {house.say(spec.post_span)} + 2 x {house.say(side)} = {house.say(across)}; height needed"
            f" {house.say(shape.ridge_height)}{of_roll}; door openings are cut out of it"
        )
        yield house.pieces("film on the end walls", spec.film_material, across, spec.end_walls, working)


def _channel(house: HouseContext) -> Iterator[TakeoffRow]:
    spec, shape = house.spec, house.shape
    if not spec.channel_material:
        return
    if spec.channel_runs:
        working = (
            f"{count_noun(spec.channel_runs, 'run')} along the house, {house.say(spec.length)}"
            " each, lengths butted end to end"
        )
        length = house.saw(spec.length)
        yield house.pieces("channel along the house", spec.channel_material, length, spec.channel_runs, working)
    if spec.channel_on_ends:
        working = f"1 run over each of the 2 end hoops, {house.say(shape.developed)} of hoop each"
        length = house.saw(shape.developed)
        yield house.pieces("channel over the end hoops", spec.channel_material, length, 2, working)


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    spec, shape, say = house.spec, house.shape, house.say
    if not spec.film_layers:
        return
    film = house.materials[spec.film_material]
    if film.width is None:
        yield SpecProblem("film_material", f"{film.name} has no width. Type the width of its roll first.")
        return
    wide = shape.developed + 2 * spec.film_side_allowance
    if film.width < wide:
        yield SpecProblem(
            "film_material",
            f"{film.name} is {say(film.width)} wide; the hoop of {say(shape.developed)} and 2 x"
            f" {say(spec.film_side_allowance)} to spare need {say(wide)}. Choose a wider film.",
        )
    elif spec.end_walls and film.width < shape.ridge_height:
        yield SpecProblem(
            "film_material",
            f"{film.name} is {say(film.width)} wide; an end wall is {say(shape.ridge_height)} high."
            " Choose a wider film.",
        )


def _work(house: HouseContext) -> tuple[int, str]:
    found = [(row, row.length or Decimal(0)) for row in rows(house)]
    run = sum((length * row.quantity for row, length in found), Decimal(0))
    if not run:
        return 0, "The house has no film and no channel."
    words = " + ".join(f"{row.quantity} x {house.say(length)} of {row.purpose}" for row, length in found)
    feet = ceil_ratio(run, FOOT)
    return feet, f"{words} = {feet} ft, full feet"


PART = Part(
    rows=rows,
    purposes={
        "film over the house": (WorkKind.FILM,),
        "film on the end walls": (WorkKind.FILM,),
        "channel along the house": (WorkKind.FILM,),
        "channel over the end hoops": (WorkKind.FILM,),
    },
    fits=fits,
    works=(PartWork(WorkKind.FILM, ("foot of film and channel", "feet of film and channel"), _work),),
)
