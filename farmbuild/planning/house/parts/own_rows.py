"""Rows of one's own: what they come to in this house, and what is wrong with one."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from farmbuild.measure import count_noun, format_count, format_decimal
from farmbuild.measure.speech import joined, sentence
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
        return times, joined(
            " ",
            (_plain(times), sentence(per.value if times == 1 else "feet" if per is Per.FOOT else "metres")),
        )
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
    words = sentence("%(plain)s for each %(each)s", plain=_plain(row.quantity), each=sentence(PER_NAMES[row.per]))
    if row.per is not Per.HOUSE:
        words += sentence(" x %(said)s", said=said)
    if whole != exact:
        # Rounded up as shown, so that it never seems to be whole already.
        words += sentence(" = %(plain)s, rounded up", plain=_plain(exact, ROUND_CEILING))
    return whole, sentence("%(words)s = %(whole)s", words=words, whole=format_count(whole))


def rows(house: HouseContext) -> list[TakeoffRow]:
    found = []
    for row in house.spec.own_rows:
        total, working = _total(house, row)
        if not total:
            continue
        working = sentence("%(note)s: %(working)s", note=row.note, working=working) if row.note else working
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
        yield SpecProblem(
            FIELD,
            sentence("A house has %(max_rows)s rows of its own at most. Take some out.", max_rows=MAX_ROWS),
            "",
            MAX_ROWS,
        )


def _wrong(house: SpecContext, row: OwnRow) -> Iterator[tuple[str, str]]:
    material = house.materials.get(row.material)
    if not row.material:
        yield "material", sentence("Choose the material.")
    elif material is None:
        yield "material", sentence("There is no material with the code '%(code)s'.", code=row.material)
    if not row.quantity.is_finite() or row.quantity <= 0:
        yield (
            "quantity",
            sentence("Type a quantity above 0, for example 2 or %(half)s.", half=format_decimal(Decimal("0.5"))),
        )
    elif row.quantity > MAX_QUANTITY:
        yield (
            "quantity",
            sentence("Type a quantity of at most %(max_quantity)s.", max_quantity=format_decimal(MAX_QUANTITY)),
        )
    elif row.quantity != round(row.quantity, PLACES):
        yield "quantity", sentence("Type a quantity with at most %(places)s decimals.", places=PLACES)
    if material and (problem := _wrong_length(house, material.name, row.length, material.by_length)):
        yield "length", problem
    if row.step not in PURPOSES:
        yield "step", sentence("There is no work called '%(step)s'. Choose one of the list, or none.", step=row.step)
    if len(row.note) > MAX_NOTE:
        yield "note", sentence("Type a note of at most %(max_note)s characters.", max_note=MAX_NOTE)


def _wrong_length(house: SpecContext, name: str, length: Decimal, by_length: bool) -> str:
    if not length.is_finite() or length < 0:
        return sentence("Type a length above 0.")
    if length > MAX_LENGTH:
        return sentence("Type a length of at most %(max_length)s.", max_length=house.say(MAX_LENGTH))
    if by_length and not length:
        return sentence("%(name)s is bought by length. Type the length of each piece.", name=name)
    if length and not by_length:
        return sentence("%(name)s is counted and has no length. Leave the length empty.", name=name)
    return ""


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    for at, row in enumerate(house.spec.own_rows):
        total, working = _total(house, row)
        if total > MAX_PIECES:
            yield SpecProblem(
                FIELD,
                sentence(
                    "%(working)s, and %(max_pieces)s is the most one row may take. Type less.",
                    working=working,
                    max_pieces=format_count(MAX_PIECES),
                ),
                "quantity",
                at,
            )


def remarks(house: HouseContext) -> Iterator[SpecProblem]:
    """A row that comes to nothing is left out of the take-off."""
    for at, row in enumerate(house.spec.own_rows):
        if not _times(house, row.per)[0]:
            name = house.materials[row.material].name
            yield SpecProblem(
                FIELD,
                sentence(
                    "%(name)s is for each %(each)s, and this house has none. It takes none.",
                    name=name,
                    each=sentence(PER_NAMES[row.per]),
                ),
                "per",
                at,
            )


PART = Part(
    rows=rows,
    purposes={purpose: (WorkKind(step),) if step else () for step, purpose in PURPOSES.items()},
    sizes=sizes,
    fits=fits,
    remarks=remarks,
)
