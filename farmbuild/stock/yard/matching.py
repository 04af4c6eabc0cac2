"""Which materials a few words and sizes may mean: “1-3/8”, “conduit 3/4”, “2x6”, “film 24 ft”."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import LengthError, NumberError, Unit, parse_length

#: Words that say nothing of which material it is.
NOISE = frozenset(
    {
        *("of", "the", "a", "at", "in", "ft", "mm", "cm", "m", "mil", "mils", "µm", "um", "wide", "long", "each"),
        *("stick", "sticks", "piece", "pieces", "pc", "pcs", "length", "lengths", "full", "whole", "about"),
        *("lot", "lots", "offcut", "offcuts", "part", "parts", "end", "ends"),
    }
)
#: Words for a kind of material, beside those of its name.
_KINDS = {
    "tube": ("tube", "tubes", "pipe", "pipes", "rail", "rails", "conduit"),
    "lumber": ("lumber", "board", "boards", "timber", "plank", "planks"),
    "film": ("film", "films", "roll", "rolls", "plastic"),
    "channel": ("channel", "channels", "coil", "coils"),
    "fastener": ("fastener", "fasteners"),
    "anchor": ("anchor", "anchors"),
    "hardware": (),
}
#: A word of these is no name of a tube that is called otherwise.
_OWN_NAMES = {"conduit": ("conduit", "emt"), "pipe": ("pipe",), "rail": ("rail",), "tube": ("tube",)}
_TOKEN = re.compile(r"[#mM]?\d+(?:[-.,/]\d+)*(?:/\d+)?(?:x[#]?\d+(?:[-.,/]\d+)*)*|[^\W\d_]+")
_TIMES = re.compile(r"(?<=[\d\"])\s*[x×]\s*(?=#?\d)")
_JOINED = re.compile(r"(?<![\d/])(\d+) (\d+/\d+)")
_MARKS = {"’": "'", "′": "'", "”": '"', "“": '"', "″": '"', "–": "-", "‑": "-", "⁄": "/"}


def plain(text: str) -> str:
    """Small letters, one kind of quotation marks and of times sign, 1 3/8 as 1-3/8."""
    flat = "".join(_MARKS.get(char, char) for char in " ".join(text.casefold().split()))
    return _JOINED.sub(r"\1-\2", _TIMES.sub("x", flat))


def tokens(text: str) -> list[str]:
    """Words in the singular and sizes, without what says nothing; feet and inches become words, which are left out."""
    flat = plain(text).replace("'", " ft ").replace('"', " in ")
    found = [token.replace(",", ".") for token in _TOKEN.findall(flat)]
    return [token if _sized(token) else _singular(token) for token in found if token not in NOISE]


def _sized(token: str) -> bool:
    return any(char.isdigit() for char in token)


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


@dataclass(frozen=True)
class Named:
    """A material with what it answers to. ``used``: it is sold to the farm, lies there or is bent."""

    pk: int
    name: str
    code: str
    kind: str
    width: Decimal | None
    thickness: Decimal | None
    by_length: bool
    used: bool

    def words(self) -> tuple[str, ...]:
        return tuple(token for token in tokens(f"{self.name} {self.code}") if not _sized(token))

    def sizes(self) -> frozenset[str]:
        return frozenset(token for token in tokens(self.name) if _sized(token))


def _word_fits(word: str, material: Named) -> bool:
    own = material.words()
    if any(name == word or (len(word) >= 3 and name.startswith(word)) for name in own):
        return True
    if word in _OWN_NAMES and material.kind == "tube":
        # One that is called by none of these words may be any of them.
        called = {said for said, names in _OWN_NAMES.items() if any(name in own for name in names)}
        return word == "tube" or not called or word in called
    return word in _KINDS[material.kind]


def _size_fits(size: str, material: Named, small: Unit) -> bool:
    for own in material.sizes():
        parts = own.split("x")
        if size == own or size in parts or size.split("x") == parts[::-1]:
            return True
    if "x" in size or size[0] in "#m":
        return False
    return any(_length(size, unit) in (material.width, material.thickness) for unit in (small, Unit.FOOT, Unit.METRE))


def _length(size: str, unit: Unit) -> Decimal:
    """-1 where it is none; what a material has no size of is never found by it."""
    try:
        return parse_length(size, unit) or Decimal(-1)
    except (LengthError, NumberError):
        return Decimal(-1)


@dataclass(frozen=True)
class Fit:
    """``materials`` answer to the most of what was said; ``strange`` is what none of them answers to."""

    materials: tuple[Named, ...]
    strange: tuple[str, ...]
    said: int

    @property
    def whole(self) -> bool:
        return bool(self.said) and not self.strange


def find(text: str, materials: Sequence[Named], small: Unit) -> Fit:
    """Those that answer to all of it; else those that answer to the most, but one word at least."""
    said = tokens(text)
    bare = " ".join(word for word in plain(text).split() if word not in NOISE)
    exact = [row for row in materials if {plain(text), bare} & {plain(row.name), plain(row.code)}]
    if exact:
        return Fit(tuple(exact), (), len(said) or 1)
    if not said:
        return Fit((), (), 0)
    answers = {
        row: [token for token in said if (_size_fits(token, row, small) if _sized(token) else _word_fits(token, row))]
        for row in materials
    }
    most = max((len(found) for found in answers.values()), default=0)
    best = [row for row, found in answers.items() if found and len(found) == most]
    # What is bought by length before what is only made for it.
    best = [row for row in best if row.by_length] or best
    known = {token for row in best for token in answers[row]}
    strange = tuple(token for token in said if token not in known) if most < len(said) else ()
    return Fit(tuple(best), strange or (() if most == len(said) else tuple(said)), len(said))


def same_size(text: str, materials: Sequence[Named]) -> bool:
    """Whether a material is called by exactly this pair of sizes, as 25x150."""
    return any(text in row.sizes() for row in materials)
