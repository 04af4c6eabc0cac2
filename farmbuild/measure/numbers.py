"""Numbers as people write them, by the decimal sign of those who do.

Half of the world writes one and a half as 1.5 and the other half as 1,5, and each marks thousands with the other's
sign (ISO 80000-1:2022, 7.3.1 allows both signs, and between groups of three a small space alone). So what could be read
two ways is never guessed at.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal

from farmbuild.measure.speech import gettext_noop, sentence

#: Between groups of three: narrow, and no line breaks at it.
THIN_SPACE = "\N{NARROW NO-BREAK SPACE}"
#: What people put between groups of three.
SPACES = " \N{NO-BREAK SPACE}\N{FIGURE SPACE}\N{THIN SPACE}\N{NARROW NO-BREAK SPACE}"
_MINUS = "-\N{MINUS SIGN}\N{NON-BREAKING HYPHEN}\N{EN DASH}"
#: Beyond this nobody reads it back; it also keeps the conversion short.
_LONGEST_TEXT = 40


@dataclass(frozen=True)
class NumberStyle:
    """``decimal``: a point or a comma. ``group``: what parts groups of three when numbers are written."""

    decimal: str = "."
    group: str = ","

    @property
    def other(self) -> str:
        """The sign that is not the decimal one; it may mark thousands where nothing else can be meant."""
        return "," if self.decimal == "." else "."

    @property
    def name(self) -> str:
        return _NAMES[self.decimal]


_NAMES = {".": gettext_noop("point"), ",": gettext_noop("comma")}
POINT = NumberStyle()
_IN_FORCE: ContextVar[NumberStyle] = ContextVar("number_style", default=POINT)


def current_style() -> NumberStyle:
    """The style in force: that of the organisation whose page or file is being made."""
    return _IN_FORCE.get()


def activate_style(style: NumberStyle) -> None:
    """Put ``style`` in force for the rest of the ``use_style`` around, or of the thread."""
    _IN_FORCE.set(style)


@contextmanager
def use_style(style: NumberStyle) -> Iterator[None]:
    """Inside it numbers are read and written by ``style``."""
    token = _IN_FORCE.set(style)
    try:
        yield
    finally:
        _IN_FORCE.reset(token)


class NumberError(ValueError):
    """A number that cannot be read, or could be read two ways; the message says which and what to type.

    The message is a ``sentence``. ``readings``: where there are two, both as they can be typed; ``meant``: where the
    other sign gives the only one.
    """

    def __init__(self, message: str, readings: tuple[str, ...] = (), meant: str = "") -> None:
        self.sentence, self.readings, self.meant = message, readings, meant
        super().__init__(str(message))


def read_decimal(text: str, style: NumberStyle | None = None) -> Decimal:
    """A number as typed: 1234.5, 1,234.5, -3; with a decimal comma 1234,5, 1.234,5 or 1 234,5. Raises NumberError.

    Thousands may be marked by any space, or by the sign that is not the decimal one, in whole groups of three; by that
    sign only where it cannot be a decimal one: twice, or with a decimal part behind it.
    """
    return _read(text, style or current_style(), whole=False)


def read_whole(text: str, style: NumberStyle | None = None) -> int:
    """A whole number as typed: 24, 1200, 1 200; 1,200 (1.200 with a decimal comma). Raises NumberError.

    A decimal part is refused, of noughts too: 100,0 and 1,200 with a decimal comma may stand for a thousand.
    """
    return int(_read(text, style or current_style(), whole=True))


def _read(text: str, style: NumberStyle, *, whole: bool) -> Decimal:
    typed = text.strip(SPACES + "\t")
    if not typed:
        raise NumberError(sentence("There is no number here."))
    if len(typed) > _LONGEST_TEXT:
        raise NumberError(sentence("This is %(count)s characters long, too long for a number.", count=len(typed)))
    # Raised digits and the like stand for something else, so only digits in their own right count.
    plain = "".join(str(unicodedata.decimal(char, char)) for char in typed)
    sign = -1 if plain[0] in _MINUS else 1
    plain = plain[1:].lstrip(SPACES) if sign < 0 else plain
    readings = _readings(plain, style)
    own = readings[0]
    if own is None and readings[1] is None:
        raise NumberError(sentence("“%(text)s” cannot be read as a number.", text=typed))
    if own is None:
        assert readings[1] is not None
        raise _wrong_sign(typed, readings[1] * sign, style, whole=whole)
    grouped = style.other in plain
    other = readings[1]
    if whole:
        if style.decimal in plain:
            # With the signs the other way round it would be a whole number.
            swapped = other if other is not None and other == other.to_integral_value() and other != own else None
            raise _not_whole(typed, own * sign, swapped and swapped * sign, style)
    elif grouped and other is not None and other != own:
        raise _two_ways(typed, own * sign, other * sign, style)
    return sign * own


def _readings(plain: str, style: NumberStyle) -> tuple[Decimal | None, Decimal | None]:
    """What the digits say by the style, and by the one with the signs the other way round."""
    return _one_reading(plain, style.decimal, style.other), _one_reading(plain, style.other, style.decimal)


def _one_reading(plain: str, decimal: str, group: str) -> Decimal | None:
    point, comma = re.escape(decimal), re.escape(group)
    groups = rf"[1-9]\d{{0,2}}(?:(?:{comma}\d{{3}})+|(?:[{SPACES}]\d{{3}})+)"
    if not re.fullmatch(rf"(?:{groups}|\d+)(?:{point}\d+)?|{point}\d+", plain):
        return None
    kept = re.sub(rf"[{SPACES}{comma}]", "", plain)
    return Decimal(kept.replace(decimal, "."))


def typed_as(value: Decimal | int, style: NumberStyle | None = None) -> str:
    """The number without groups, as it can be typed again: 1234.5 or 1234,5."""
    shown = f"{Decimal(value):f}"
    return shown.replace(".", (style or current_style()).decimal)


def _two_ways(typed: str, own: Decimal, other: Decimal, style: NumberStyle) -> NumberError:
    readings = (typed_as(own, style), typed_as(other, style))
    ways = sentence(
        "“%(text)s” could be %(one)s or %(other)s. Type it one of these ways.",
        text=typed,
        one=readings[0],
        other=readings[1],
    )
    return NumberError(ways, readings)


def _not_whole(typed: str, own: Decimal, swapped: Decimal | None, style: NumberStyle) -> NumberError:
    if swapped is None:
        return NumberError(sentence("“%(text)s” is not a whole number.", text=typed))
    readings = (typed_as(own, style), typed_as(swapped, style))
    asked = sentence(
        "“%(text)s” could be %(one)s or %(other)s, and a whole number is asked for.",
        text=typed,
        one=readings[0],
        other=readings[1],
    )
    return NumberError(asked, readings)


def _wrong_sign(typed: str, meant: Decimal, style: NumberStyle, *, whole: bool) -> NumberError:
    if whole:
        return NumberError(sentence("“%(text)s” is not a whole number.", text=typed))
    shown = typed_as(meant, style)
    so = sentence(
        "“%(text)s”: decimals take a %(sign)s here. If you mean %(number)s, type it so.",
        text=typed,
        sign=sentence(style.name),
        number=shown,
    )
    return NumberError(so, meant=shown)


#: Second moments in mm⁴ have more digits than the usual context rounds.
_WIDE = Context(prec=80)


def format_count(count: int, style: NumberStyle | None = None) -> str:
    """1,200, or 1 200 with a narrow space that does not break, by the style in force."""
    return f"{count:,}".replace(",", (style or current_style()).group)


def format_decimal(value: Decimal | float, places: int | None = None, style: NumberStyle | None = None) -> str:
    """1,234.5 or 1 234,5 by the style in force; rounded half up to ``places``, or as many as there are.

    Where thousands are parted by a space, three decimals get a fourth: 2,375 mm is 2375 mm to half of those who get it.
    """
    style = style or current_style()
    shown = format_places(value, places, style)
    whole, _, part = shown.partition(style.decimal)
    in_doubt = style.group == THIN_SPACE and len(part) == 3 and whole.lstrip("-") != "0"
    return f"{shown}0" if in_doubt else shown


def format_places(value: Decimal | float, places: int | None = None, style: NumberStyle | None = None) -> str:
    """The same, with no decimal more than there are: of coins."""
    style = style or current_style()
    exact = value if isinstance(value, Decimal) else Decimal(repr(value))
    shown = exact if places is None else exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP, _WIDE)
    whole, _, part = f"{shown:,f}".partition(".")
    whole = whole.replace(",", style.group)
    return f"{whole}{style.decimal}{part}" if part else whole


_EXAMPLE = re.compile(r"(?<![\d.])(\d+)\.(\d+)(?!\.?\d)")


def by_sign(sentence: str, style: NumberStyle | None = None) -> str:
    """A sentence of ours with numbers such as 12.5 in it, as the reader would type them. Days and versions stay."""
    sign = (style or current_style()).decimal
    return sentence if sign == "." else _EXAMPLE.sub(rf"\1{sign}\2", sentence)


def format_signed(value: Decimal | float, places: int | None = None) -> str:
    """With its sign, the minus a typographic one: +1,200, −0.25; 0 has none."""
    shown = format_decimal(-value if value < 0 else value, places)
    if not any(digit in shown for digit in "123456789"):
        return shown
    return f"{'−' if value < 0 else '+'}{shown}"
