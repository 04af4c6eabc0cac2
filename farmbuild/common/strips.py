"""Sticks as strips: shares of one scale as wide as its place is, with letters of the page's own size.

What is drawn is in percent of the longest, so that a strip is to scale at any width without a script. How much room
its words have is told by the width of the strip, so each text stands only from the width at which it fits
(``strips.css``); what is left out on a narrow screen is in the words beside the strip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

#: Widths of a strip, in rem, from which texts may stand; those of ``strips.css``.
STEPS = (6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 32, 36, 40, 44, 48, 56, 64)
#: Sizes of letters, in rem: lengths in the pieces, and marks under them.
PIECE, MARK = 0.85, 0.75
_PLACES = Decimal("0.0001")
#: Between a text and its neighbour or the ends of its piece, in rem.
ROOM = 0.35
_NARROW = dict.fromkeys("' \u00a0\u202f.,/i", 0.37) | {'"': 0.48} | dict.fromkeys("0123456789", 0.65)


@dataclass(frozen=True)
class Part:
    """From ``start`` for ``length`` mm. ``css``: cut, other (another house's), end (an offcut) or scrap."""

    start: Decimal
    length: Decimal
    words: str
    css: str = "cut"


@dataclass(frozen=True)
class At:
    """A mark: so many mm from the left end."""

    place: Decimal
    words: str


def breadth(words: str, letter: float) -> float:
    """A little more than the words take, in rem, whichever sans serif the device has."""
    return letter * sum(_NARROW.get(sign, 0.68) for sign in words)


def strip(
    key: str, parts: Sequence[Part], marks: Sequence[At], longest: Decimal, title: str, description: str
) -> SafeString:
    """``longest``: mm that take the whole width; ``key``: one of its own on the page."""
    bars = format_html_join(
        "",
        '<rect class="{}" x="{}" width="{}" y="0.1rem" height="1.4rem"/>',
        ((part.css, _percent(part.start, longest), _percent(part.length, longest)) for part in parts),
    )
    words = format_html_join(
        "",
        '<text class="from-{}" x="{}" y="1.1rem">{}</text>',
        (
            (step, _percent(part.start + part.length / 2, longest), part.words)
            for part in parts
            if part.words and (step := _step(breadth(part.words, PIECE) + ROOM, part.length / longest))
        ),
    )
    lines = format_html_join(
        "",
        '<line x1="{0}" x2="{0}" y1="1.5rem" y2="1.8rem"/>',
        ((_percent(mark.place, longest),) for mark in marks),
    )
    said = format_html_join(
        "",
        '<text class="at from-{}" x="{}" y="2.5rem">{}</text>',
        ((step, _percent(mark.place, longest), mark.words) for mark, step in _steps_of(marks, longest)),
    )
    return format_html(
        '<svg class="strip{7}" xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{0}-t"'
        ' aria-describedby="{0}-d">'
        '<title id="{0}-t">{1}</title><desc id="{0}-d">{2}</desc>{3}{4}{5}{6}</svg>',
        key,
        title,
        description,
        bars,
        lines,
        words,
        said,
        "" if marks else " unmarked",
    )


def _percent(length: Decimal, longest: Decimal) -> str:
    return f"{(length / longest * 100).quantize(_PLACES)}%"


def _step(rem: float, share: Decimal | float) -> int:
    """The width from which ``rem`` fit into a share of it; 0 where they never do."""
    return next((step for step in STEPS if step * float(share) >= rem), 0)


def _steps_of(marks: Sequence[At], longest: Decimal) -> list[tuple[At, int]]:
    """Where marks stand close, one waits for a wider strip than its neighbour; none ever touches another."""
    steps: dict[int, int] = {}
    for step in STEPS:
        for number, mark in enumerate(marks):
            half = breadth(mark.words, MARK) / 2
            middle = float(mark.place / longest) * step
            clear = number not in steps and half - 0.5 <= middle <= step - half + 0.5
            if clear and all(
                abs(middle - float(marks[other].place / longest) * step)
                >= half + breadth(marks[other].words, MARK) / 2 + ROOM
                for other in steps
            ):
                steps[number] = step
    return [(marks[number], steps[number]) for number in sorted(steps)]
