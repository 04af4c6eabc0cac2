"""Lengths as people write them, kept as exact Decimal millimetres.

One inch is 25.4 mm exactly (international yard and pound agreement, 1959), so 1/64 in is 0.396875 mm and both unit
systems are exact at six places.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache, reduce
from math import gcd

from farmbuild.measure.numbers import (
    POINT,
    SPACES,
    THIN_SPACE,
    NumberError,
    NumberStyle,
    current_style,
    format_count,
    format_decimal,
    read_decimal,
    typed_as,
)
from farmbuild.measure.speech import Sentence, sentence

MICRON = Decimal("0.000001")
INCH_MM = Decimal("25.4")
FOOT_MM = Decimal("304.8")
LONGEST_MM = Decimal(10_000_000)
#: A bare number in a field of metres: so many metres is no piece or house, and the trade says millimetres.
BARE_MM_FROM = 100
#: What is thinner than this, and more than nothing, is told as a film.
FILM_BELOW_MM = Decimal("0.5")
#: Nobody reads a space as a decimal sign, and lengths in millimetres go to suppliers of both kinds.
_MILLIMETRES = NumberStyle(group=THIN_SPACE)


class Unit(StrEnum):
    MICROMETRE = "µm"
    #: A thousandth of an inch, in which film is sold.
    MIL = "mil"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    METRE = "m"
    INCH = "in"
    FOOT = "ft"


class UnitSystem(StrEnum):
    IMPERIAL = "imperial"
    METRIC = "metric"


MM_PER = {
    Unit.MICROMETRE: Decimal("0.001"),
    Unit.MIL: Decimal("0.0254"),
    Unit.MILLIMETRE: Decimal(1),
    Unit.CENTIMETRE: Decimal(10),
    Unit.METRE: Decimal(1000),
    Unit.INCH: INCH_MM,
    Unit.FOOT: FOOT_MM,
}
#: What a tape shows: the sixteenth of an inch, or the millimetre.
TAPE_STEP = {UnitSystem.IMPERIAL: Decimal("1.5875"), UnitSystem.METRIC: Decimal(1)}
_WORDS = {
    "'": Unit.FOOT,
    "ft": Unit.FOOT,
    "foot": Unit.FOOT,
    "feet": Unit.FOOT,
    '"': Unit.INCH,
    "in": Unit.INCH,
    "inch": Unit.INCH,
    "inches": Unit.INCH,
    "''": Unit.INCH,
    "mil": Unit.MIL,
    "mils": Unit.MIL,
    # As plain text has it, and with the u of a keyboard.
    "μm": Unit.MICROMETRE,
    "um": Unit.MICROMETRE,
    "micron": Unit.MICROMETRE,
    "microns": Unit.MICROMETRE,
    "mm": Unit.MILLIMETRE,
    "cm": Unit.CENTIMETRE,
    "m": Unit.METRE,
}
_EXAMPLES = {
    Unit.MICROMETRE: ("150 µm", "0.15 mm"),
    Unit.MIL: ("6 mil",),
    Unit.FOOT: ("12'", "7' 3 1/2\""),
    Unit.INCH: ('93 1/2"', "7' 9 1/2\""),
    Unit.METRE: ("2.38 m", "2380 mm"),
    Unit.CENTIMETRE: ("238 cm",),
    Unit.MILLIMETRE: ("2380 mm", "2.38 m"),
}


def either(*texts: str) -> str:
    """One text, or the first of two or the other."""
    return sentence("%(one)s or %(other)s", one=texts[0], other=texts[1]) if len(texts) > 1 else texts[0]


class LengthError(ValueError):
    """A length that cannot be read: ``text``, ``position`` (from 0) and ``reason``; the message ends in an example,
    and is a ``sentence``.

    ``readings``: both numbers that it could be, where it could be two.
    """

    def __init__(
        self,
        text: str,
        position: int,
        reason: str,
        example: str = either(*_EXAMPLES[Unit.FOOT]),
        readings: tuple[str, ...] = (),
    ) -> None:
        self.text, self.position, self.reason, self.readings = text, position, reason, readings
        values: dict[str, object] = {"reason": reason, "example": example}
        if 0 < position < len(text):
            self.sentence = sentence(
                "%(reason)s at character %(at)s. Type it like %(example)s.", at=position + 1, **values
            )
        else:
            self.sentence = sentence("%(reason)s. Type it like %(example)s.", **values)
        super().__init__(str(self.sentence))


#: All that may belong to one number, whatever it says; the space before a fraction marks no thousands.
_NUMBER = re.compile(rf"[.,]?\d+(?:[.,]\d+|[{SPACES}]\d{{3}}(?!\d|\s*/))*")
_FRACTION = re.compile(r"(\d+)\s*/\s*(\d+)")
_JOINED_FRACTION = re.compile(r"(?:\s*-\s*|\s+)(\d+)\s*/\s*(\d+)")
_UNIT = re.compile(
    r"\s*(microns?|mils?|[μu]m|millimetres?|millimeters?|metres?|meters?|inches|inch|feet|foot|ft|in|mm|cm|m|''|'|\")(?![a-z])\.?"
)
_LONG_WORDS = re.compile(r"(milli)?(?:metre|meter)s?")
_GLYPHS = {
    "’": "'",
    "‘": "'",
    "′": "'",
    "`": "'",
    "”": '"',
    "“": '"',
    "″": '"',
    "–": "-",
    "−": "-",
    "‑": "-",
    "⁄": "/",
}
_LONGEST_TEXT = 60
#: Digits raised, lowered or ringed stand for something else than the same digit on the line.
_SET_APART = ("<super>", "<sub>", "<circle>")


def _plain(text: str) -> tuple[str, list[int]]:
    """ASCII form of the text, with the place in the text that each character came from."""
    out: list[str] = []
    places: list[int] = []
    for place, char in enumerate(text):
        if char in SPACES:
            plain = " "
        elif char in _GLYPHS:
            plain = _GLYPHS[char]
        elif unicodedata.decomposition(char).startswith(_SET_APART):
            plain = char
        else:
            plain = "".join(_GLYPHS.get(part, part) for part in unicodedata.normalize("NFKC", char)).lower()
            if len(plain) > 1 and "/" in plain:
                plain = " " + plain
        out.append(plain)
        places.extend([place] * len(plain))
    return "".join(out), [*places, len(text)]


def number_style(decimal: str, system: UnitSystem) -> NumberStyle:
    """A comma parts thousands in feet and inches with a decimal point alone: elsewhere it may be read as decimal."""
    return NumberStyle(decimal, "," if (decimal, system) == (".", UnitSystem.IMPERIAL) else THIN_SPACE)


def parse_length(
    text: str, default_unit: Unit, *, allow_negative: bool = False, style: NumberStyle | None = None
) -> Decimal:
    """Exact millimetres from text such as 12', 7' 3 1/2", 7ft 3-1/2in, 93.5", 2.38 m, 2380 mm or 2 380 mm.

    A bare number is in ``default_unit``, but 100 and more of metres are millimetres (``bare_unit``); numbers are read
    as ``read_decimal`` reads them. Raises LengthError with the place of the first thing that cannot be read.
    """
    return _read(text, default_unit, allow_negative, style or current_style())


# The lengths of a form are read when it is drawn, to say each as briefly as it reads the same.
@lru_cache(maxsize=4096)
def _read(text: str, default_unit: Unit, allow_negative: bool, style: NumberStyle) -> Decimal:
    reader = _Reader(text, default_unit, style)
    value = reader.read(allow_negative)
    if abs(value) > LONGEST_MM:
        raise reader.error(0, sentence("“%(text)s” is longer than any stick or house", text=text.strip()))
    micron = value * 1_000_000
    if micron.denominator != 1:
        raise reader.error(
            0,
            sentence(
                "“%(text)s” is not exact to a millionth of a millimetre; use 64ths of an inch or decimals",
                text=text.strip(),
            ),
        )
    return (Decimal(micron.numerator) * MICRON).quantize(MICRON)


def bare_unit(number: Fraction | Decimal, default_unit: Unit) -> Unit:
    """What a number without a unit is in: 6 in a field of metres is 6 m, and 6000 is 6000 mm."""
    return Unit.MILLIMETRE if default_unit is Unit.METRE and number >= BARE_MM_FROM else default_unit


def has_unit(text: str) -> bool:
    """Whether a unit stands in the text, by name or by mark."""
    return bool(_UNIT.search(_plain(text)[0]))


def bare_is_same(text: str, default_unit: Unit) -> bool:
    """Whether a length, or each of a list, reads the same without its unit; so does what cannot be read at all."""
    read = parse_lengths if ";" in text else parse_length
    try:
        typed = read(text, default_unit)
    except LengthError:
        return True
    try:
        return read(_UNIT.sub("", _plain(text)[0]), default_unit) == typed
    except LengthError:
        return False


#: Where a list parts: at a comma only straight behind a unit or a fraction's glyph, where it is no decimal sign.
_BETWEEN = re.compile(r"[;\n\r]|(?<=[^\d\s.,;]),(?=\s|$)")
_BARE_WITH_COMMA = re.compile(r"[\d\s.]*\d\s*,[\d\s.,]*")


def parse_lengths(text: str, default_unit: Unit, *, style: NumberStyle | None = None) -> list[Decimal]:
    """The lengths of a list in its order, with semicolons or new lines between: 2.4 m; 3.6 m.

    Raises LengthError, its ``text`` the first that cannot be read.
    """
    return [
        _of_list(part.strip(), default_unit, style or current_style()) for part in _BETWEEN.split(text) if part.strip()
    ]


def _of_list(part: str, default_unit: Unit, style: NumberStyle) -> Decimal:
    if _BARE_WITH_COMMA.fullmatch(part):
        parted = "; ".join(number.strip() for number in part.split(",") if number.strip())
        raise LengthError(
            part,
            0,
            sentence("“%(text)s” could be one length or several", text=part),
            sentence("%(lengths)s, with a unit where it is one", lengths=parted),
        )
    return parse_length(part, default_unit, style=style)


def smaller_unit(length: Decimal, longest: Decimal, system: UnitSystem) -> Sentence | str:
    """Asks back where the next smaller unit would fit: " Did you mean 6000 mm?"; "" where it would not."""
    feet = system == UnitSystem.IMPERIAL
    if not 1 <= length / (12 if feet else 1000) <= longest:
        return ""
    unit = '"' if feet else " mm"
    return sentence(" Did you mean %(length)s?", length=f"{_in_large(length, feet)}{unit}")


def _in_large(length: Decimal, feet: bool) -> str:
    """The number of feet or metres, to the hundredth."""
    return typed_as((length / (FOOT_MM if feet else 1000)).quantize(Decimal("0.01"), ROUND_HALF_UP).normalize())


def too_long(length: Decimal, longest: Decimal, reason: str, system: UnitSystem) -> str:
    """Why a piece cannot be so long, asking back where the next smaller unit would fit; "" where it can.

    ``reason``: with places for a ``length`` and the ``most`` that there is.
    """
    if length <= longest:
        return ""
    feet = system == UnitSystem.IMPERIAL
    large, unit = (FOOT_MM, "'") if feet else (Decimal(1000), " m")
    said, most = f"{_in_large(length, feet)}{unit}", f"{_whole(longest / large)}{unit}"
    refused = sentence(reason, length=said, most=most)
    asked = smaller_unit(length, longest, system)
    return sentence("%(refused)s%(asked)s", refused=refused, asked=asked) if asked else refused


class _Reader:
    def __init__(self, text: str, default_unit: Unit, style: NumberStyle) -> None:
        self.text = text
        self.default_unit = default_unit
        self.style = style
        self.plain, self.places = _plain(text[: _LONGEST_TEXT + 1])
        self.at = 0

    def error(self, at: int, reason: str, example: str = "", readings: tuple[str, ...] = ()) -> LengthError:
        usual = either(*(each.replace(".", self.style.decimal) for each in _EXAMPLES[self.default_unit]))
        place = self.places[min(at, len(self.places) - 1)]
        return LengthError(self.text, place, reason, example or usual, readings)

    def unread(self, at: int) -> LengthError:
        return self.error(at, sentence("“%(text)s” cannot be read here", text=self.text[self.places[at] :].strip()))

    def skip_space(self) -> None:
        while self.at < len(self.plain) and self.plain[self.at].isspace():
            self.at += 1

    def read(self, allow_negative: bool) -> Fraction:
        if len(self.text) > _LONGEST_TEXT:
            long = sentence("This is %(count)s characters long, too long for a length", count=len(self.text))
            raise self.error(0, long)
        self.skip_space()
        if self.at == len(self.plain):
            raise self.error(0, sentence("There is no length here"))
        sign = 1
        if self.plain[self.at] == "-":
            if not allow_negative:
                raise self.error(self.at, sentence("A length cannot be below zero"))
            sign = -1
            self.at += 1
            self.skip_space()
        value, unit, _ = self.part()
        self.skip_space()
        total = value * Fraction(MM_PER[unit or bare_unit(value, self.default_unit)])
        if self.at < len(self.plain):
            total += self.inches_after(value, unit)
        return sign * total

    def part(self) -> tuple[Fraction, Unit | None, int]:
        start = self.at
        if fraction := _FRACTION.match(self.plain, self.at):
            value = self.fraction(fraction)
        elif number := _NUMBER.match(self.plain, self.at):
            self.at = number.end()
            value = self.number(number)
            joined = _JOINED_FRACTION.match(self.plain, self.at)
            if joined and self.style.decimal not in number[0]:
                part = self.fraction(joined)
                if part >= 1:
                    raise self.error(joined.start(1), sentence("A fraction after a whole number must be less than 1"))
                value += part
        else:
            raise self.error(self.at, sentence("“%(text)s” cannot be read as a length", text=self.text.strip()))
        unit = None
        if word := _UNIT.match(self.plain, self.at):
            self.at = word.end()
            unit = _unit_of(word[1])
        return value, unit, start

    def number(self, match: re.Match[str]) -> Fraction:
        try:
            return Fraction(read_decimal(match[0], self.style))
        except NumberError as error:
            word = _UNIT.match(self.plain, match.end())
            unit = _unit_of(word[1]) if word else self.default_unit
            if error.readings:
                example = either(*(f"{reading} {unit}" for reading in error.readings))
                reason = sentence("“%(text)s” could be %(readings)s", text=match[0], readings=either(*error.readings))
                raise self.error(match.start(), reason, example, error.readings) from error
            if error.meant:
                reason = sentence(
                    "“%(text)s”: decimals take a %(sign)s here", text=match[0], sign=sentence(self.style.name)
                )
                raise self.error(match.start(), reason, f"{error.meant} {unit}") from error
            unread = sentence("“%(text)s” cannot be read as a number", text=match[0])
            raise self.error(match.start(), unread) from error

    def fraction(self, match: re.Match[str]) -> Fraction:
        if int(match[2]) == 0:
            raise self.error(match.start(2), sentence("A fraction cannot have 0 below the line"))
        self.at = match.end()
        return Fraction(int(match[1]), int(match[2]))

    def inches_after(self, feet: Fraction, first: Unit | None) -> Fraction:
        """The inches after feet; anything else after the first number is refused."""
        rest = self.at
        if first is None or not (self.plain[rest].isdigit() or self.plain[rest] in "-."):
            raise self.unread(rest)
        if first is not Unit.FOOT:
            mixed = sentence("Give one unit, or feet and then inches; other units cannot be mixed")
            raise self.error(rest, mixed)
        if feet.denominator != 1:
            raise self.error(rest, sentence("Inches can only follow whole feet"))
        if self.plain[rest] == "-":
            self.at += 1
            self.skip_space()
        value, unit, start = self.part()
        if unit not in (None, Unit.INCH):
            raise self.error(start, sentence("Only inches can follow feet; units cannot be mixed"))
        if value >= 12:
            raise self.error(start, sentence("Inches after feet must be less than 12"))
        self.skip_space()
        if self.at < len(self.plain):
            raise self.unread(self.at)
        return value * Fraction(INCH_MM)


def _unit_of(word: str) -> Unit:
    if long := _LONG_WORDS.fullmatch(word):
        return Unit.MILLIMETRE if long[1] else Unit.METRE
    return _WORDS[word]


def _whole(value: Decimal) -> int:
    return int(value.to_integral_value(ROUND_HALF_UP))


def format_length(length: Decimal, system: UnitSystem, *, sixteenths: int = 1) -> str:
    """The length for reading: 6' 0 15/16", or whole millimetres. Rounds half up; keeps nothing."""
    sign = "-" if length < 0 else ""
    if system == UnitSystem.METRIC:
        rounded = _whole(abs(length))
        return f"{sign if rounded else ''}{format_count(rounded, _MILLIMETRES)} mm"
    parts = _whole(abs(length) / INCH_MM * 16 / sixteenths) * sixteenths
    sign = sign if parts else ""
    inches, rest = divmod(parts, 16)
    feet, inches = divmod(inches, 12)
    fraction = Fraction(rest, 16)
    # Six feet and 15/16 is 6' 0 15/16": 6' 15/16" is taken for 6 15/16" by a tired eye.
    mixed = rest and (inches or feet)
    shown = f"{inches} {fraction}" if mixed else str(fraction) if rest else str(inches)
    if not feet:
        return f'{sign}{shown}"'
    return f"{sign}{feet}'" if not (inches or rest) else f"{sign}{feet}' {shown}\""


def format_mm(length: Decimal | float, places: int | None = None) -> str:
    """Millimetres with ``places`` decimals, or as many as there are: 3 900.25 mm."""
    style = NumberStyle(current_style().decimal, THIN_SPACE)
    return f"{format_decimal(length, places, style)} mm"


def format_film(thickness: Decimal, system: UnitSystem) -> str:
    """The thickness of a film as it is sold: in mils to the hundredth, or in micrometres to the tenth; half up."""
    unit, place = (Unit.MIL, "0.01") if system == UnitSystem.IMPERIAL else (Unit.MICROMETRE, "0.1")
    return f"{format_decimal((thickness / MM_PER[unit]).quantize(Decimal(place), ROUND_HALF_UP).normalize())} {unit}"


def tape_mark(at: Decimal, stick: Decimal, system: UnitSystem) -> Decimal:
    """The line of a tape nearest to ``at``, mm; the one before it where a stick of ``stick`` mm ends sooner."""
    step = TAPE_STEP[system]
    mark = (at / step).to_integral_value(ROUND_HALF_UP) * step
    return mark if mark < stick else (at / step).to_integral_value(ROUND_FLOOR) * step


def format_off(off: Decimal, system: UnitSystem) -> str:
    """How far a mark lies from where it should: 0.02" short, 0.4 mm over; nothing where it lies there exactly."""
    if not off:
        return ""
    inches = system == UnitSystem.IMPERIAL
    amount, places, unit = (abs(off) / INCH_MM, 2, '"') if inches else (abs(off), 1, " mm")
    least = Decimal(1).scaleb(-places)
    shown = amount.quantize(least, ROUND_HALF_UP)
    said = f"{format_decimal(shown or least)}{unit}"
    if shown:
        return sentence("%(length)s short", length=said) if off < 0 else sentence("%(length)s over", length=said)
    if off < 0:
        return sentence("less than %(length)s short", length=said)
    return sentence("less than %(length)s over", length=said)


def says_exactly(shown: str, length: Decimal) -> bool:
    """Whether what ``format_length`` or ``format_film`` made of a length keeps all of it."""
    return any(
        _reads_as(text, style, length) for text, style in ((shown, current_style()), (shown.replace(",", ""), POINT))
    )


def _reads_as(text: str, style: NumberStyle, length: Decimal) -> bool:
    """Rounding up can pass the longest length there is, which is then no length."""
    try:
        return parse_length(text, Unit.MILLIMETRE, style=style) == length
    except LengthError:
        return False


def format_both(length: Decimal, system: UnitSystem) -> tuple[str, str]:
    """The length in the reader's system, and in the other."""
    other = UnitSystem.IMPERIAL if system == UnitSystem.METRIC else UnitSystem.METRIC
    return format_length(length, system), format_length(length, other)


@dataclass(frozen=True)
class Grid:
    """The coarsest step, in millionths of a millimetre, on which every length of a set lies exactly."""

    step: int

    def to_int(self, length: Decimal) -> int:
        """Steps in a length; ValueError when it is not on the grid."""
        microns = _microns(length)
        if microns % self.step:
            raise ValueError(f"{length} mm is not on a grid of {self.step} millionths of a millimetre")
        return microns // self.step

    def to_mm(self, steps: int) -> Decimal:
        return (Decimal(steps * self.step) * MICRON).quantize(MICRON)


def _microns(length: Decimal) -> int:
    scaled = length / MICRON
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{length} mm has more than six decimal places")
    return int(scaled)


def to_grid(lengths: Iterable[Decimal]) -> Grid:
    """The common grid of the lengths; one millionth of a millimetre steps when there are none."""
    return Grid(reduce(gcd, (_microns(length) for length in lengths), 0) or 1)
