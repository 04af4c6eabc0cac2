"""Whether a house can be built as its spec says; every refusal names the field and says why in numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.planning.house.context import SAW_STEP
from farmbuild.planning.house.parts.doors import Doors, doors_of
from farmbuild.planning.house.parts.ends import member_face
from farmbuild.planning.house.shape import HouseShape, ceil_ratio, free_span, house_shape, recipe_length
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.inputs import Kind, Material

MAX_HOOPS = 10_000
MAX_STICKS_A_HOOP = 20
MAX_ROWS = 50
MAX_DOORS = 10
MAX_BRACES = 1_000
MAX_ANCHORS = 100_000
MAX_FASTENERS_A_PLACE = 100
#: 10 km: longer than anything that is built or bought here.
MAX_LENGTH = Decimal(10_000_000)
#: A free hoop end is held 12 to 24 in outside its post before it is sprung in (common practice, no source).
MAX_SPRING_IN_A_SIDE = Decimal("609.6")
#: A hoop this much narrower than its posts is still pulled out by hand (common practice, no source): 1 in.
MAX_PULL_OUT = Decimal("25.4")


@dataclass(frozen=True)
class SpecProblem:
    """``field`` is a field of HouseSpec; ``part`` names the field of its recipe that is meant."""

    field: str
    message: str
    part: str = ""


@dataclass(frozen=True)
class _Check:
    spec: HouseSpec
    materials: Mapping[str, Material]
    units: UnitSystem

    def say(self, length: Decimal) -> str:
        return format_length(length, self.units)


def check_spec(spec: HouseSpec, materials: Mapping[str, Material], units: UnitSystem) -> list[SpecProblem]:
    """Say what keeps a house from being built as specified; an empty list: nothing does.

    Sizes and counts are looked at first; only when those make sense is the geometry worked out, so that one
    mistyped number gives one message.
    """
    check = _Check(spec, materials, units)
    problems = [*_lengths(check), *_counts(check), *_materials(check)]
    if problems:
        return problems
    problems = [*_recipe(check), *_hoop_count(check), *_posts(check)]
    if problems:
        return problems
    problems = [*_spans(check)]
    if problems:
        return problems
    shape = house_shape(spec)
    return [
        *_purlins(check),
        *_boards(check, shape),
        *_ends(check, shape),
        *_film(check, shape),
    ]


def _length(
    check: _Check, field: str, value: Decimal, what: str, *, zero: bool = False, part: str = ""
) -> Iterator[SpecProblem]:
    if not value.is_finite():
        yield SpecProblem(field, f"The {what} is not a length. Type one such as {_example(check.units)}.", part)
    elif value < 0:
        yield SpecProblem(field, f"The {what} is {check.say(value)}. Type 0 or more.", part)
    elif value == 0 and not zero:
        yield SpecProblem(field, f"The {what} is 0. Type a length such as {_example(check.units)}.", part)
    elif value > MAX_LENGTH:
        yield SpecProblem(field, f"The {what} is above {check.say(MAX_LENGTH)}. Type less.", part)


def _example(units: UnitSystem) -> str:
    return "4' 6\"" if units is UnitSystem.IMPERIAL else "1.37 m"


def _lengths(check: _Check) -> Iterator[SpecProblem]:
    spec, recipe = check.spec, check.spec.recipe
    yield from _length(check, "post_span", spec.post_span, "post span")
    yield from _length(check, "length", spec.length, "house length")
    yield from _length(check, "spacing_wanted", spec.spacing_wanted, "hoop spacing")
    for part, value, what, zero in (
        ("stick_length", recipe.stick_length, "stick length of the recipe", False),
        ("insertion", recipe.insertion, "insertion of the recipe", True),
        ("radius", recipe.radius, "bending radius of the recipe", False),
        ("first_mark", recipe.first_mark, "first mark of the recipe", True),
        ("pitch", recipe.pitch, "distance between marks of the recipe", False),
        ("stop_gap", recipe.stop_gap, "stop gap of the recipe", True),
    ):
        yield from _length(check, "recipe", value, what, zero=zero, part=part)
    posts = bool(spec.post_material)
    yield from _length(check, "post_length", spec.post_length, "ground post length", zero=not posts)
    yield from _length(check, "post_depth", spec.post_depth, "depth of the ground posts", zero=True)
    purlins = spec.ridge_purlins + spec.side_purlins > 0
    yield from _length(check, "purlin_stick_length", spec.purlin_stick_length, "purlin stick length", zero=not purlins)
    yield from _length(check, "purlin_insertion", spec.purlin_insertion, "purlin insertion", zero=True)
    for field, lengths in (
        ("hip_board_lengths", spec.hip_board_lengths),
        ("base_board_lengths", spec.base_board_lengths),
    ):
        for value in lengths:
            yield from _length(check, field, value, "board length")
    yield from _length(check, "end_stud_spacing", spec.end_stud_spacing, "stud spacing", zero=spec.end_walls == 0)
    for doors in doors_of(spec):
        none = doors.count == 0
        yield from _length(check, f"{doors.end}_door_width", doors.width, "door width", zero=none)
        yield from _length(check, f"{doors.end}_door_height", doors.height, "door height", zero=none)
    yield from _length(
        check, "brace_length", spec.brace_length, "length of the corner braces", zero=spec.brace_count == 0
    )
    yield from _length(check, "film_side_allowance", spec.film_side_allowance, "film to spare", zero=True)
    yield from _length(check, "film_end_allowance", spec.film_end_allowance, "film to spare", zero=True)


def _counts(check: _Check) -> Iterator[SpecProblem]:
    spec = check.spec
    rows: tuple[tuple[str, str, int, int, int, str], ...] = (
        ("recipe", "number of sticks in a hoop", spec.recipe.sticks, 1, MAX_STICKS_A_HOOP, "sticks"),
        ("ridge_purlins", "number of ridge purlins", spec.ridge_purlins, 0, 1, ""),
        ("side_purlins", "number of side purlins", spec.side_purlins, 0, MAX_ROWS, ""),
        ("hip_board_rows", "number of hip boards on each side", spec.hip_board_rows, 0, MAX_ROWS, ""),
        ("base_board_rows", "number of base boards on each side", spec.base_board_rows, 0, MAX_ROWS, ""),
        ("end_walls", "number of framed end walls", spec.end_walls, 0, 2, ""),
        ("front_door_count", "number of front doors", spec.front_door_count, 0, MAX_DOORS, ""),
        ("back_door_count", "number of back doors", spec.back_door_count, 0, MAX_DOORS, ""),
        ("brace_count", "number of corner braces", spec.brace_count, 0, MAX_BRACES, ""),
        ("film_layers", "number of layers of film", spec.film_layers, 0, 2, ""),
        ("channel_runs", "number of runs of channel", spec.channel_runs, 0, MAX_ROWS, ""),
        (
            "screws_per_joint",
            "number of screws a joint",
            spec.screws_per_joint,
            0,
            MAX_FASTENERS_A_PLACE,
            "",
        ),
        (
            "bolts_per_crossing",
            "number of bolts a crossing",
            spec.bolts_per_crossing,
            0,
            MAX_FASTENERS_A_PLACE,
            "",
        ),
        ("anchor_count", "number of anchors", spec.anchor_count, 0, MAX_ANCHORS, ""),
    )
    for field, what, value, least, most, part in rows:
        if not least <= value <= most:
            yield SpecProblem(field, f"The {what} is {value}. Type {least} to {most}.", part)
    if spec.side_purlins % 2:
        yield SpecProblem(
            "side_purlins",
            f"Side purlins are counted over both sides, so {spec.side_purlins} cannot be shared evenly."
            f" Type {max(0, spec.side_purlins - 1)} or {spec.side_purlins + 1}.",
        )


def _materials(check: _Check) -> Iterator[SpecProblem]:
    spec = check.spec
    ends = spec.channel_runs > 0 or spec.channel_on_ends
    joined = spec.recipe.sticks > 1 or spec.ridge_purlins + spec.side_purlins > 0
    boarded = spec.hip_board_rows + spec.base_board_rows > 0
    uses: tuple[tuple[str, str, bool, str, tuple[Kind, ...]], ...] = (
        ("recipe", spec.recipe.tube, True, "hoops", (Kind.TUBE,)),
        ("post_material", spec.post_material, False, "ground posts", (Kind.TUBE,)),
        (
            "purlin_material",
            spec.purlin_material,
            spec.ridge_purlins + spec.side_purlins > 0,
            "purlins",
            (Kind.TUBE,),
        ),
        (
            "hip_board_material",
            spec.hip_board_material,
            spec.hip_board_rows > 0,
            "hip boards",
            (Kind.LUMBER,),
        ),
        (
            "base_board_material",
            spec.base_board_material,
            spec.base_board_rows > 0,
            "base boards",
            (Kind.LUMBER,),
        ),
        (
            "end_frame_material",
            spec.end_frame_material,
            spec.end_walls > 0,
            "end wall frames",
            (Kind.LUMBER, Kind.TUBE),
        ),
        (
            "brace_material",
            spec.brace_material,
            spec.brace_count > 0,
            "corner braces",
            (Kind.TUBE, Kind.LUMBER),
        ),
        ("film_material", spec.film_material, spec.film_layers > 0, "film", (Kind.FILM,)),
        ("channel_material", spec.channel_material, ends, "fixing channel", (Kind.CHANNEL,)),
        (
            "screw_material",
            spec.screw_material,
            joined and spec.screws_per_joint > 0,
            "joint screws",
            (Kind.FASTENER,),
        ),
        (
            "bolt_material",
            spec.bolt_material,
            boarded and spec.bolts_per_crossing > 0,
            "board bolts",
            (Kind.FASTENER,),
        ),
        ("anchor_material", spec.anchor_material, spec.anchor_count > 0, "anchors", (Kind.ANCHOR,)),
    )
    for field, code, wanted, what, kinds in uses:
        part = "tube" if field == "recipe" else ""
        if not code:
            if wanted:
                yield SpecProblem(
                    field,
                    f"The house has {what}, but of no material. Choose one, or type 0 for how many.",
                    part,
                )
        elif code not in check.materials:
            yield SpecProblem(field, f"There is no material with the code {code!r}.", part)
        elif check.materials[code].kind not in kinds:
            allowed = " or ".join(kind.value for kind in kinds)
            found = check.materials[code]
            yield SpecProblem(
                field,
                f"{found.name} is {found.kind.value}; {what} are made of {allowed}. Choose another.",
                part,
            )


def _recipe(check: _Check) -> Iterator[SpecProblem]:
    recipe, say = check.spec.recipe, check.say
    if recipe.insertion >= recipe.stick_length:
        yield SpecProblem(
            "recipe",
            f"An insertion of {say(recipe.insertion)} is as long as the stick of"
            f" {say(recipe.stick_length)}. Type less.",
            "insertion",
        )
    if recipe.first_mark >= recipe.stick_length:
        yield SpecProblem(
            "recipe",
            f"The first mark at {say(recipe.first_mark)} is off the stick of {say(recipe.stick_length)},"
            " so there would be no marks to pull at.",
            "first_mark",
        )
    tube = check.materials[recipe.tube]
    if recipe.sticks > 1 and not tube.swaged:
        yield SpecProblem(
            "recipe",
            f"The hoop joins {recipe.sticks} sticks, and {tube.name} has no swaged end to slide"
            " into the next."
            " Choose a swaged tube or a hoop of 1 stick.",
            "tube",
        )
    elif recipe.sticks > 1 and recipe.insertion == 0:
        yield SpecProblem(
            "recipe",
            f"The hoop joins {recipe.sticks} sticks with no insertion. Type how far they slide.",
            "insertion",
        )


def _hoop_count(check: _Check) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    if spec.spacing_wanted > spec.length:
        yield SpecProblem(
            "spacing_wanted",
            f"A hoop spacing of {say(spec.spacing_wanted)} is longer than the house of {say(spec.length)}."
            f" Type {say(spec.length)} or less.",
        )
        return
    hoops = ceil_ratio(spec.length, spec.spacing_wanted) + 1
    if hoops > MAX_HOOPS:
        yield SpecProblem(
            "spacing_wanted",
            f"{say(spec.length)} at {say(spec.spacing_wanted)} makes {hoops:,} hoops, and"
            f" {MAX_HOOPS:,} is the"
            " most one house may have. Type a wider spacing.",
        )


def _posts(check: _Check) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    if spec.post_material and spec.post_length <= spec.post_depth:
        yield SpecProblem(
            "post_length",
            f"A ground post of {say(spec.post_length)} set {say(spec.post_depth)} deep leaves nothing above"
            f" the ground. Type more than {say(spec.post_depth)}.",
        )


def _spans(check: _Check) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    developed = recipe_length(spec.recipe)
    if developed <= spec.post_span:
        yield SpecProblem(
            "post_span",
            f"The hoop is {say(developed)} of pipe along the curve ({spec.recipe.sticks} x"
            f" {say(spec.recipe.stick_length)} less the insertions), too short to arch over a post span of"
            f" {say(spec.post_span)}. Type a narrower span or choose a longer hoop.",
        )
        return
    free = free_span(spec.recipe)
    if free + MAX_PULL_OUT < spec.post_span:
        yield SpecProblem(
            "recipe",
            f"This recipe bends a hoop {say(free)} wide, {say(spec.post_span - free)} narrower than"
            " the post span"
            f" of {say(spec.post_span)}; a hoop can be pulled out {say(MAX_PULL_OUT)} at most."
            " Choose a bender"
            " with a larger radius, a longer hoop or a narrower span.",
        )
    most = min(2 * MAX_SPRING_IN_A_SIDE, spec.post_span / 2)
    if free - spec.post_span > most:
        yield SpecProblem(
            "recipe",
            f"This recipe bends a hoop {say(free)} wide, {say(free - spec.post_span)} wider than"
            " the post span of"
            f" {say(spec.post_span)}; springing in more than {say(most)} is not allowed for. Choose"
            " a bender with"
            " a smaller radius or a wider span.",
        )


def _purlins(check: _Check) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    if not spec.ridge_purlins + spec.side_purlins:
        return
    if spec.purlin_insertion >= spec.purlin_stick_length:
        yield SpecProblem(
            "purlin_insertion",
            f"An insertion of {say(spec.purlin_insertion)} is as long as the purlin stick of"
            f" {say(spec.purlin_stick_length)}. Type less.",
        )
    elif spec.purlin_stick_length < spec.length:
        tube = check.materials[spec.purlin_material]
        if not tube.swaged:
            yield SpecProblem(
                "purlin_material",
                f"A run of {say(spec.length)} joins sticks of {say(spec.purlin_stick_length)}, and"
                f" {tube.name} has"
                " no swaged end. Choose a swaged tube.",
            )
        elif spec.purlin_insertion == 0:
            yield SpecProblem(
                "purlin_insertion",
                f"A run of {say(spec.length)} joins sticks of {say(spec.purlin_stick_length)} with"
                " no insertion."
                " Type how far they slide.",
            )


def _boards(check: _Check, shape: HouseShape) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    for field, rows, lengths in (
        ("hip_board_lengths", spec.hip_board_rows, spec.hip_board_lengths),
        ("base_board_lengths", spec.base_board_rows, spec.base_board_lengths),
    ):
        if not rows:
            continue
        if not lengths:
            yield SpecProblem(
                field,
                f"Type the board lengths that may be bought, of at least one bay ({say(shape.spacing)}).",
            )
        elif max(lengths) * shape.bays < shape.length:
            yield SpecProblem(
                field,
                f"The longest board allowed, {say(max(lengths))}, is shorter than one bay of"
                f" {say(shape.spacing)}, and boards are spliced on hoops only. Add a longer board.",
            )


def _ends(check: _Check, shape: HouseShape) -> Iterator[SpecProblem]:
    spec = check.spec
    for n, doors in enumerate(doors_of(spec)):
        if not doors.count:
            continue
        if n >= spec.end_walls:
            yield SpecProblem(
                f"{doors.end}_door_count",
                f"There are {doors.count} doors in the {doors.end} end, but {spec.end_walls} framed end walls."
                f" Type at least {n + 1} end walls or 0 doors.",
            )
            continue
        yield from _door(check, shape, doors)


def _door(check: _Check, shape: HouseShape, doors: Doors) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    material = check.materials[spec.end_frame_material]
    face = member_face(material)
    needed = doors.opening + 2 * face
    if needed >= spec.post_span:
        yield SpecProblem(
            f"{doors.end}_door_width",
            f"{doors.count} x {say(doors.width)} of door and 2 door posts of {say(face)} take"
            f" {say(needed)}, and"
            f" the post span is {say(spec.post_span)}. Type narrower or fewer doors.",
        )
        return
    wide = material.width or Decimal(0)
    if doors.width <= 2 * wide:
        yield SpecProblem(
            f"{doors.end}_door_width",
            f"A door {say(doors.width)} wide has no room between its 2 uprights of {say(wide)}. Type a wider door.",
        )
    clear = shape.height_at(needed / 2)
    if doors.height + face > clear:
        # Rounded down to what is shown, so that typing it passes.
        step = SAW_STEP[check.units]
        fits = max(Decimal(0), (clear - face) // step * step)
        yield SpecProblem(
            f"{doors.end}_door_height",
            f"A door {say(doors.height)} high with its header of {say(face)} does not fit: the hoop is"
            f" {say(clear)} above the ground where the door post stands, {say(needed / 2)} from the middle."
            f" Type {say(fits)} or less, or a narrower door.",
        )


def _film(check: _Check, shape: HouseShape) -> Iterator[SpecProblem]:
    spec, say = check.spec, check.say
    if not spec.film_layers:
        return
    film = check.materials[spec.film_material]
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
            " Choose a wider"
            " film.",
        )
