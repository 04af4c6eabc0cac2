"""These floors write English, for what is kept and cached is one for all readers; pages say it in a language.

``common/speaking.py`` puts into a language what was marked here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date


def gettext_noop(text: str) -> str:
    """Marks a text that a page puts into the language of its reader."""
    return text


class Sentence(str):
    """English as it stands, with the ``text`` and the ``values`` that it was made of."""

    text: str
    values: Mapping[str, object]

    __slots__ = ("text", "values")

    def __add__(self, other: str) -> Sentence:
        return joined("", (self, other))

    def __radd__(self, other: str) -> Sentence:
        return joined("", (other, self))


class Day(str):
    """A day in English, which a page says in the language of its reader."""

    day: date

    __slots__ = ("day",)


def sentence(text: str, /, **values: object) -> Sentence:
    """``text`` with ``%(name)s`` for each value; a value may be a sentence itself."""
    made = Sentence(text % values if values else text)
    made.text, made.values = text, values
    return made


def joined(between: str, parts: Iterable[str]) -> Sentence:
    """Sentences side by side, each of which is said by itself."""
    values = {f"part{n}": part for n, part in enumerate(parts)}
    return sentence(between.replace("%", "%%").join(f"%({name})s" for name in values), **values)
