"""Film and the channel that holds it."""

from __future__ import annotations

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import Work
from farmbuild.planning.results import TakeoffRow


def film(work: Work) -> list[TakeoffRow]:
    """Sheets over the house, and one sheet for each framed end wall, laid with the roll's width upright."""
    spec, shape = work.spec, work.shape
    if not (spec.film_material and spec.film_layers):
        return []
    side, end = spec.film_side_allowance, spec.film_end_allowance
    roll = work.materials[spec.film_material].width
    wide = shape.developed + 2 * side
    long = work.saw(spec.length + 2 * end)
    of_roll = f", roll {work.say(roll)} wide" if roll is not None else ""
    working = (
        f"{count_noun(spec.film_layers, 'layer')} of {work.say(spec.length)} + 2 x {work.say(end)} ="
        f" {work.say(long)};"
        f" width needed {work.say(shape.developed)} of hoop + 2 x {work.say(side)} ="
        f" {work.say(wide)}{of_roll}"
    )
    rows = [work.pieces("film over the house", spec.film_material, long, spec.film_layers, working)]
    if spec.end_walls:
        across = work.saw(spec.post_span + 2 * side)
        working = (
            f"1 sheet for each of {count_noun(spec.end_walls, 'framed end wall')}, across the wall:"
            f" {work.say(spec.post_span)} + 2 x {work.say(side)} = {work.say(across)}; height needed"
            f" {work.say(shape.ridge_height)}{of_roll}; door openings are cut out of it"
        )
        rows.append(work.pieces("film on the end walls", spec.film_material, across, spec.end_walls, working))
    return rows


def channel(work: Work) -> list[TakeoffRow]:
    spec, shape = work.spec, work.shape
    if not spec.channel_material:
        return []
    rows = []
    if spec.channel_runs:
        working = (
            f"{count_noun(spec.channel_runs, 'run')} along the house, {work.say(spec.length)}"
            " each, lengths butted end to end"
        )
        rows.append(
            work.pieces(
                "channel along the house",
                spec.channel_material,
                work.saw(spec.length),
                spec.channel_runs,
                working,
            )
        )
    if spec.channel_on_ends:
        length = work.saw(shape.developed)
        working = f"1 run over each of the 2 end hoops, {work.say(shape.developed)} of hoop each"
        rows.append(work.pieces("channel over the end hoops", spec.channel_material, length, 2, working))
    return rows
