"""Rows of one's own: what they come to in this house, and what is wrong with one."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from farmbuild.measure import by_sign, count_noun, format_count, format_decimal
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.fields import MAX_LENGTH
from farmbuild.planning.house.own_rows import (
    MAX_NOTE,
    MAX_QUANTITY,
    MAX_ROWS,
    PER_NAMES,
    PLACES,
    OwnRow,
    Per,
)
from farmbuild.planning.house.part import WORK_NAMES, Part, WorkKind
from farmbuild.planning.house.parts.doors import doors_of
from farmbuild.planning.house.parts.purlins import runs
from farmbuild.planning.results import TakeoffRow

#: Of one row in one house.
MAX_PIECES = 100_000
FIELD = "own_rows"
ENDS = 2
UNITS = {Per.FOOT: Decimal("304.8"), Per.METRE: Decimal(1000)}
#: By step; "" where no work waits for it.
PURPOSES = {"": "own rows"} | {kind.value: f"own rows, {WORK_NAMES[kind].lower()}" for kind in WorkKind}

OWN_PURPOSES = frozenset(PURPOSES.values())


def _counted(house: HouseContext, per: Per) -> int:
    spec, shape = house.spec, house.shape
    match per:
        case Per.HOOP:
            return shape.hoops
        case Per.POST:
            return 2 * shape.hoops if spec.post_material else 0
        case Per.BAY:
            return shape.bays
        case Per.CROSSING:
            return runs(spec) * shape.hoops
        case Per.DOOR:
            return sum(doors.count for doors in doors_of(spec)[: spec.end_walls])
        case Per.END:
            return ENDS
        case _:
            return 1


def _times(house: HouseContext, per: Per) -> tuple[Fraction, str]:
    """How often a quantity is taken, and how that is said."""
    if per in UNITS:
        times = Fraction(house.spec.length) / Fraction(UNITS[per])
        return times, f"{_plain(times)} {per.value if times == 1 else 'feet' if per is Per.FOOT else 'metres'}"
    count = _counted(house, per)
    return Fraction(count), count_noun(count, PER_NAMES[per], _many(per))


def _many(per: Per) -> str:
    return "ends of the house" if per is Per.END else f"{PER_NAMES[per]}s"


def _plain(number: Fraction | Decimal, rounding: str = ROUND_HALF_UP) -> str:
    exact = Fraction(number)
    shown = (Decimal(exact.numerator) / exact.denominator).quantize(Decimal("0.001"), rounding)
    return format_decimal(shown.normalize())


def _total(house: HouseContext, row: OwnRow) -> tuple[int, str]:
    """Whole pieces, rounded up, and how they were worked out."""
    times, said = _times(house, row.per)
    exact = Fraction(row.quantity) * times
    whole = -(-exact.numerator // exact.denominator)
    words = f"{_plain(row.quantity)} for each {PER_NAMES[row.per]}"
    if row.per is not Per.HOUSE:
        words += f" x {said}"
    if whole != exact:
        # Rounded up as shown, so that it never seems to be whole already.
        words += f" = {_plain(exact, ROUND_CEILING)}, rounded up"
    return whole, f"{words} = {format_count(whole)}"


def rows(house: HouseContext) -> list[TakeoffRow]:
    found = []
    for row in house.spec.own_rows:
        total, working = _total(house, row)
        if not total:
            continue
        working = f"{row.note}: {working}" if row.note else working
        purpose = PURPOSES[row.step]
        if house.materials[row.material].by_length:
            found.append(house.pieces(purpose, row.material, row.length, total, working))
        else:
            found.append(house.counted(purpose, row.material, total, working))
    return found


def sizes(house: SpecContext) -> Iterator[SpecProblem]:
    """Of each row by itself; the first thing wrong with a field of it."""
    for at, row in enumerate(house.spec.own_rows):
        for part, message in _wrong(house, row):
            yield SpecProblem(FIELD, message, part, at)
    if len(house.spec.own_rows) > MAX_ROWS:
        yield SpecProblem(FIELD, f"A house has {MAX_ROWS} rows of its own at most. Take some out.", "", MAX_ROWS)


def _wrong(house: SpecContext, row: OwnRow) -> Iterator[tuple[str, str]]:
    material = house.materials.get(row.material)
    if not row.material:
        yield "material", "Choose the material."
    elif material is None:
        yield "material", f"There is no material with the code {row.material!r}."
    if not row.quantity.is_finite() or row.quantity <= 0:
        yield "quantity", by_sign("Type a quantity above 0, for example 2 or 0.5.")
    elif row.quantity > MAX_QUANTITY:
        yield "quantity", f"Type a quantity of at most {format_decimal(MAX_QUANTITY)}."
    elif row.quantity != round(row.quantity, PLACES):
        yield "quantity", f"Type a quantity with at most {PLACES} decimals."
    if material and (problem := _wrong_length(house, material.name, row.length, material.by_length)):
        yield "length", problem
    if row.step not in PURPOSES:
        yield "step", f"There is no work called {row.step!r}. Choose one of the list, or none."
    if len(row.note) > MAX_NOTE:
        yield "note", f"Type a note of at most {MAX_NOTE} characters."


def _wrong_length(house: SpecContext, name: str, length: Decimal, by_length: bool) -> str:
    if not length.is_finite() or length < 0:
        return "Type a length above 0."
    if length > MAX_LENGTH:
        return f"Type a length of at most {house.say(MAX_LENGTH)}."
    if by_length and not length:
        return f"{name} is bought by length. Type the length of each piece."
    if length and not by_length:
        return f"{name} is counted and has no length. Leave the length empty."
    return ""


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    for at, row in enumerate(house.spec.own_rows):
        total, working = _total(house, row)
        if total > MAX_PIECES:
            yield SpecProblem(
                FIELD,
                f"{working}, and {format_count(MAX_PIECES)} is the most one row may take. Type less.",
                "quantity",
                at,
            )


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    """A row that comes to nothing is left out of the take-off."""
    for at, row in enumerate(house.spec.own_rows):
        if not _times(house, row.per)[0]:
            name = house.materials[row.material].name
            yield SpecProblem(
                FIELD, f"{name} is for each {PER_NAMES[row.per]}, and this house has none. It takes none.", "per", at
            )


PART = Part(
    rows=rows,
    purposes={purpose: (WorkKind(step),) if step else () for step, purpose in PURPOSES.items()},
    sizes=sizes,
    fits=fits,
    remarks=remarks,
)
