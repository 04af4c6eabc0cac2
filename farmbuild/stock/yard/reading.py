"""Lines as a farm writes down what lies in its yard: “31 sticks of 1-3/8”, “offcuts 1-3/8: 4'2" 3x 5'”.

What can be read two ways is never guessed at: the line says what it could be.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from farmbuild.measure import (
    LengthError,
    NumberError,
    QuantityError,
    Unit,
    UnitSystem,
    format_count,
    parse_length,
    parse_quantity,
)
from farmbuild.stock.yard.matching import NOISE, Fit, Named, find, plain, same_size

#: Shorter than this it is a size of the material, not the length of a piece, mm.
_SHORTEST = Decimal(100)
#: Lines that one page takes, and lengths in one of them.
MOST_LINES, MOST_LENGTHS = 300, 300
MOST_PIECES = 999_999_999
_COUNT = re.compile(r"(\d[\d.,]*)(?:\s*[x×](?=\s)|(?=\s))\s*(.*)")
_SPACED = re.compile(r"(\d{1,3})\s(\d{3})\s+(?![x×]\s)(.*)")
_TIMES_SIZE = re.compile(r"(\d[\d.,]*)\s[x×]\s(\d[\d.,]*)")
_MANY = re.compile(r"(\d+)\s*[x×]\s*(?=[\d.])")
_OFFCUT = re.compile(r"\b(?:offcuts?|part(?= roll| of|s\b| coil))\b")
_PACKED = re.compile(r"\b(box|boxes|packs?|bags?|bundles?|pallets?)\b")
_UNIT_AT_END = re.compile(r"(?:'|\"|(?<![a-z])(?:ft|feet|foot|in|inch|inches|mm|cm|m|metres?|meters?))$")
_BULLET = re.compile(r"^[-•*]\s+")


@dataclass(frozen=True)
class Pile:
    """Equal pieces; ``length`` is None where none was typed, or the thing is counted."""

    quantity: int
    length: Decimal | None


@dataclass(frozen=True)
class Line:
    """``number`` counts lines from 1. ``what`` is the part that says the material, ``fit`` what it may be.

    ``problem``: why it cannot be read at all, "" where it can.
    """

    number: int
    text: str
    what: str = ""
    offcut: bool = False
    fit: Fit = field(default_factory=lambda: Fit((), (), 0))
    piles: tuple[Pile, ...] = ()
    problem: str = ""


class _Unread(Exception):
    pass


def read_lines(text: str, materials: Sequence[Named], system: UnitSystem) -> list[Line]:
    """Empty lines are left out. A line of lengths alone goes on with the list above it."""
    reader = _Reader(materials, system)
    lines: list[Line] = []
    goes_on = False
    for number, typed in enumerate(text.splitlines(), 1):
        said = _BULLET.sub("", typed.strip())
        if not said:
            goes_on = False
            continue
        if goes_on and (more := reader.only_lengths(said)):
            above = lines[-1]
            lines[-1] = replace(above, text=f"{above.text} {said}", piles=_together(above.piles + more), problem="")
            continue
        lines.append(reader.line(number, said))
        goes_on = ":" in said
    return lines


def list_of(what: Named, lengths: str, system: UnitSystem, number: int) -> Line:
    """Offcuts of a material that was chosen, by their lengths alone."""
    line = Line(number, " ".join(lengths.split()), what.name, True, Fit((what,), (), 1))
    try:
        return replace(line, piles=_Reader((), system).lengths(lengths))
    except _Unread as error:
        return replace(line, problem=str(error))


def _together(piles: Sequence[Pile]) -> tuple[Pile, ...]:
    """Equal lengths are one pile; in the order in which they were said."""
    sums: dict[Decimal | None, int] = {}
    for pile in piles:
        sums[pile.length] = sums.get(pile.length, 0) + pile.quantity
    return tuple(Pile(quantity, length) for length, quantity in sums.items())


class _Reader:
    def __init__(self, materials: Sequence[Named], system: UnitSystem) -> None:
        self.materials = materials
        metric = system == UnitSystem.METRIC
        self.large, self.small = (Unit.METRE, Unit.MILLIMETRE) if metric else (Unit.FOOT, Unit.INCH)
        self.some = "1200 mm; 3x 1500 mm" if metric else "4'; 3x 5'"
        self.example = "12 of 38 mm tube 6 m" if metric else "12 of 1-3/8 rail 10'"

    def line(self, number: int, text: str) -> Line:
        line = Line(number, text, offcut=bool(_OFFCUT.search(plain(text))))
        try:
            if packed := _PACKED.search(plain(text)):
                raise _Unread(f"How many pieces are in the {packed[1]}? Type the number of pieces.")
            head, colon, tail = text.partition(":")
            if colon:
                piles = self.lengths(tail, may_be_none=True)
                return replace(line, what=_clean(head), fit=self._find(head), piles=piles)
            return self._counted(line)
        except _Unread as error:
            return replace(line, problem=str(error))

    def _counted(self, line: Line) -> Line:
        quantity, rest = self._count(line)
        found = self._split(rest)
        if not found:
            raise _Unread(f"Of which material? Type it like {self.example}.")
        what, fit, length = found
        return replace(line, what=_clean(what), fit=fit, piles=(Pile(quantity, length),))

    def _count(self, line: Line) -> tuple[int, str]:
        text = line.text
        if (pair := _TIMES_SIZE.match(text)) and same_size(f"{pair[1]}x{pair[2]}".replace(",", "."), self.materials):
            size = f"{pair[1]}x{pair[2]}"
            raise _Unread(
                f"“{pair[0]}” could be a size, or {pair[1]} pieces. Type how many first, for example 12 of {size}."
            )
        if spaced := _SPACED.match(text):
            apart, joined = _COUNT.match(text), f"{spaced[1]} {spaced[2]}"
            # The figures that belong to the material are said by a material.
            if not (apart and self._find(apart[2]).whole):
                return self._number(joined), spaced[3]
        if counted := _COUNT.match(text):
            return self._number(counted[1]), counted[2]
        if line.offcut:
            return 1, text
        raise _Unread(f"How many are there? Begin the line with the number, for example {self.example}.")

    def _number(self, text: str) -> int:
        try:
            return parse_quantity(text, least=1, most=MOST_PIECES)
        except QuantityError as error:
            if error.readings:
                raise _Unread(str(error)) from error
            raise _Unread(f"Begin with a whole number from 1 to {format_count(MOST_PIECES)}.") from error

    def _find(self, text: str) -> Fit:
        return find(text, self.materials, self.small)

    def _split(self, rest: str) -> tuple[str, Fit, Decimal | None] | None:
        """Where the material ends and the length of one begins: where most of it is understood."""
        words = rest.replace("×", "x").split()
        best: tuple[tuple[int, int, int, int], tuple[str, Fit, Decimal | None]] | None = None
        for at in range(1, len(words) + 1):
            what, tail = " ".join(words[:at]), " ".join(words[at:])
            length = self._length(tail) if tail else None
            if tail and length is None:
                continue
            fit = self._find(what)
            if length is not None and not all(row.by_length for row in fit.materials):
                fit = replace(fit, materials=tuple(row for row in fit.materials if row.by_length))
            if not fit.said:
                continue
            rank = (fit.whole and bool(fit.materials), -len(fit.strange), -len(fit.materials), length is not None)
            known = (int(rank[0]), rank[1], rank[2] if fit.materials else -999, int(rank[3]))
            if best is None or known > best[0]:
                best = known, (what, fit, length)
        return best[1] if best else None

    def _length(self, text: str) -> Decimal | None:
        """Of a piece: with a unit, or the one bare number at the end; None where it is none."""
        if not _UNIT_AT_END.search(plain(text).strip()) and len(text.split()) > 1:
            return None
        try:
            length = parse_length(text, self.large)
        except (LengthError, NumberError):
            return None
        return length if length >= _SHORTEST else None

    def only_lengths(self, text: str) -> tuple[Pile, ...]:
        try:
            return self.lengths(text)
        except _Unread:
            return ()

    def lengths(self, text: str, *, may_be_none: bool = False) -> tuple[Pile, ...]:
        """With spaces, semicolons, new lines or commas between; 3x before one says how many there are of it."""
        piles: list[Pile] = []
        for part in re.split(r"[;\n\r]|,(?=\s|$)", text):
            piles += self._run(_MANY.sub(r"\1x ", part).split())
        if not piles and not may_be_none:
            raise _Unread(f"There are no lengths here. Type them with semicolons between: {self.some}.")
        if len(piles) > MOST_LENGTHS:
            raise _Unread(f"These are more than {MOST_LENGTHS} lengths. Type them in several lines.")
        return _together(piles)

    def _run(self, words: list[str]) -> list[Pile]:
        """Lengths with spaces between: each takes as many words as still read as one length."""
        piles: list[Pile] = []
        times = 1
        while words:
            if many := re.fullmatch(r"(\d+)x", words[0]):
                times, words = self._number(many[1]), words[1:]
                if not words:
                    raise _Unread(f"“{many[0]}” stands before no length.")
                continue
            taken, length = self._longest(words)
            piles.append(Pile(times, length))
            times, words = 1, words[taken:]
        return piles

    def _longest(self, words: list[str]) -> tuple[int, Decimal]:
        refused = ""
        for taken in range(min(len(words), 4), 0, -1):
            try:
                length = parse_length(" ".join(words[:taken]), self.large)
            except (LengthError, NumberError) as error:
                refused = str(error)
                continue
            if length > 0:
                return taken, length
            refused = "A length has to be longer than zero."
        raise _Unread(refused if words[0] in refused else f"“{words[0]}” cannot be read as a length. {refused}")


def _clean(text: str) -> str:
    """What says the material, without the words that do not, so that one thing is asked about once."""
    return " ".join(word for word in plain(text).split() if word not in NOISE)
