"""Headings of a table that somebody filled in: which are known, and what is said of the others.

    key("Bend  Radius (mm) *") == key("bend radius, mm")
    unit_said("Bend radius (mm)") is Unit.MILLIMETRE
    nearest("Ridge purlns", ["Ridge purlins", "Side purlins"]) == "Ridge purlins"

A column that is not known is never dropped in silence: with anything under it, it is Strange.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher

from farmbuild.measure import Unit

#: Columns of whoever fills the file in: kept beside the others, and never read.
OWN_NOTES = ("Note", "Notes", "My notes")
KEEP_UNREAD = f"Take the column out, or head it “{OWN_NOTES[0]}” to keep it unread."
#: From this on two headings are taken to be one, mistyped.
NEAR = 0.72
_QUOTES = str.maketrans({"’": "'", "‘": "'", "“": '"', "”": '"', "_": " ", "-": " ", "‐": " ", "‑": " ", "–": " "})
_IN_BRACKETS = re.compile(r"\s*,?\s*[(\[]\s*([^()\[\]]+?)\s*[)\]]$")
_UNITS = {
    Unit.MILLIMETRE: ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    Unit.CENTIMETRE: ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    Unit.METRE: ("m", "metre", "metres", "meter", "meters"),
    Unit.INCH: ("in", "inch", "inches"),
    Unit.FOOT: ("ft", "foot", "feet"),
}
UNITS_SAID = {word: unit for unit, words in _UNITS.items() for word in words}


@dataclass(frozen=True)
class Strange:
    """A column with something under it that nobody reads: ``column`` is its letter, ``row`` the first with a value."""

    column: str
    row: int
    heading: str
    sentence: str


def key(text: str) -> str:
    """By this two headings are the same: without case, marks, hyphens, and brackets about a unit."""
    plain = "".join(sign for sign in unicodedata.normalize("NFKC", text) if unicodedata.category(sign) != "Cf")
    plain = " ".join(plain.translate(_QUOTES).casefold().split()).rstrip(" *:")
    return _IN_BRACKETS.sub(r", \1", plain).replace(" ,", ",")


def unit_said(text: str) -> Unit | None:
    """The unit of bare numbers that a heading says after a comma or in brackets."""
    return UNITS_SAID.get(key(text).rpartition(", ")[2])


def with_units(heading: str) -> tuple[str, ...]:
    """The heading of lengths, alone and with each unit that it may say."""
    return (heading, *(f"{heading}, {word}" for word in UNITS_SAID))


def nearest(text: str, names: Iterable[str]) -> str:
    """The name that was most likely meant, "" where none is near."""
    wanted = _bare(text)
    best, likeness = "", NEAR
    for name in names:
        other = _bare(name)
        ratio = SequenceMatcher(None, wanted, other, autojunk=False).ratio()
        if ratio > likeness:
            best, likeness = name, ratio
    return best


def _bare(text: str) -> str:
    """Without a unit, so that no unit makes two headings alike."""
    plain = key(text)
    head, _, tail = plain.rpartition(", ")
    return head if head and tail in UNITS_SAID else plain


def strange(column: str, row: int, heading: str, value: str, known: Iterable[str], there: Iterable[str]) -> Strange:
    """``known``: the headings that are read; ``there``: which of them the table has already."""
    shown = value if len(value) <= 40 else value[:39] + "…"
    under = f"row {row} has “{shown}” under it"
    if not heading:
        return Strange(column, row, "", f"Column {column} has no heading, and {under}. {KEEP_UNREAD}")
    near = nearest(heading, known)
    sentence = f"“{heading[:60]}” (column {column}) is not a heading that is read here, and {under}."
    if near and near in set(there):
        return Strange(column, row, heading, f"{sentence} There is a column “{near}” already. {KEEP_UNREAD}")
    hint = f"Did you mean “{near}”? If not, take the column out." if near else KEEP_UNREAD
    return Strange(column, row, heading, f"{sentence} {hint}")
