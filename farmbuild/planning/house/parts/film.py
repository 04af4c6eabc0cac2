"""Film, and the channel that holds it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.measure import count_noun, join_words
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import NONE, Part, PartWork, WorkKind
from farmbuild.planning.house.parts import end_film, sides
from farmbuild.planning.results import TakeoffRow


def rows(house: HouseContext) -> list[TakeoffRow]:
    return [*_film(house), *end_film.rows(house), *sides.rows(house), *channel_rows(house)]


def _film(house: HouseContext) -> Iterator[TakeoffRow]:
    """Sheets over the house."""
    spec, shape = house.spec, house.shape
    if not (spec.film_material and spec.film_layers):
        return
    side, end = spec.film_side_allowance, spec.film_end_allowance
    roll = house.materials[spec.film_material].width
    wide = shape.developed + 2 * side
    long = spec.length + 2 * end
    of_roll = sentence(", roll %(roll)s wide", roll=house.say(roll)) if roll is not None else ""
    working = sentence(
        "%(layers)s of %(length)s + 2 x %(end)s = %(long)s; width needed %(developed)s of hoop + "
        "2 x %(side)s = %(wide)s%(of_roll)s",
        layers=count_noun(spec.film_layers, "layer"),
        length=house.say(spec.length),
        end=house.say(end),
        long=house.say(long),
        developed=house.say(shape.developed),
        side=house.say(side),
        wide=house.say(wide),
        of_roll=of_roll,
    )
    yield house.pieces("film over the house", spec.film_material, long, spec.film_layers, working)


def channel_runs(house: HouseContext) -> list[tuple[str, Decimal, int]]:
    """Where channel runs, how long one run is, mm, and how many there are."""
    spec, shape = house.spec, house.shape
    if not spec.channel_material:
        return []
    along = [("along the house", spec.length, spec.channel_runs)] if spec.channel_runs else []
    return along + ([("over the end hoops", shape.developed, 2)] if spec.channel_on_ends else [])


def channel_rows(house: HouseContext) -> Iterator[TakeoffRow]:
    for where, length, count in channel_runs(house):
        said = (
            sentence("%(length)s of hoop", length=house.say(length))
            if where == "over the end hoops"
            else house.say(length)
        )
        working = sentence(
            "%(runs)s %(where)s, %(said)s each, lengths butted end to end",
            runs=count_noun(count, "run"),
            where=sentence(where),
            said=said,
        )
        yield house.pieces(f"channel {where}", house.spec.channel_material, length, count, working)


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    spec, shape, say = house.spec, house.shape, house.say
    if not spec.film_layers:
        return
    film = house.materials[spec.film_material]
    if film.width is None:
        yield SpecProblem(
            "film_material", sentence("%(film)s has no width. Type the width of its roll first.", film=film.name)
        )
        return
    wide = shape.developed + 2 * spec.film_side_allowance
    if film.width < wide:
        yield SpecProblem(
            "film_material",
            sentence(
                "%(film)s is %(width)s wide; the hoop of %(developed)s and 2 x %(film_side_allowance)s "
                "to spare need %(wide)s. Choose a wider film.",
                film=film.name,
                width=say(film.width),
                developed=say(shape.developed),
                film_side_allowance=say(spec.film_side_allowance),
                wide=say(wide),
            ),
        )
    else:
        yield from end_film.fits(house, film.width)
    yield from sides.fits(house)


def _work(house: HouseContext) -> tuple[int, str]:
    # What is fixed is as long whichever way the roll was laid.
    found = [
        (house.spec.end_walls, end_film.size(house)[0], row.purpose)
        if row.purpose == end_film.PURPOSE
        else (row.quantity, row.length, row.purpose)
        for row in rows(house)
        if row.length
    ]
    run = sum((length * count for count, length, _ in found), Decimal(0))
    if not run:
        return 0, sentence("The house has no film and no channel.")
    words = joined(
        " + ",
        (
            sentence(
                "%(count)s x %(length)s of %(purpose)s",
                count=count,
                length=house.say(length),
                purpose=sentence(purpose),
            )
            for count, length, purpose in found
        ),
    )
    count, whole = house.in_whole(run)
    return count, sentence("%(words)s = %(whole)s", words=words, whole=whole)


def _said(house: SpecContext) -> str:
    spec = house.spec
    if not spec.film_layers:
        return NONE
    spare = (
        (spec.film_side_allowance, sentence("%(length)s at each side", length=house.say(spec.film_side_allowance))),
        (spec.film_end_allowance, sentence("%(length)s at each end", length=house.say(spec.film_end_allowance))),
    )
    words = join_words(words for length, words in spare if length)
    return sentence("%(words)s to spare", words=words) if words else sentence("nothing to spare")


def _channel_said(house: SpecContext) -> str:
    spec = house.spec
    where = (
        [sentence("%(runs)s along the house", runs=count_noun(spec.channel_runs, "run"))] if spec.channel_runs else []
    )
    where += [sentence("over the end hoops")] if spec.channel_on_ends else []
    name = house.name_of(spec.channel_material) or sentence("no channel chosen")
    return sentence("%(name)s, %(names)s", name=name, names=join_words(where)) if where else NONE


PART = Part(
    rows=rows,
    purposes={
        "film over the house": (WorkKind.FILM,),
        end_film.PURPOSE: (WorkKind.FILM,),
        **sides.PURPOSES,
        "channel along the house": (WorkKind.FILM,),
        "channel over the end hoops": (WorkKind.FILM,),
    },
    fits=fits,
    remarks=sides.remarks,
    said={"Film": _said, "Sides": sides.said, "Fixing channel": _channel_said},
    works=(
        PartWork(
            WorkKind.FILM,
            (_("foot of film and channel"), _("feet of film and channel")),
            _work,
            metric=(_("metre of film and channel"), _("metres of film and channel")),
        ),
    ),
)
