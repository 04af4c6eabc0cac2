"""What of a page escapes translation: every text that is put into a language is marked, and so what stands outside of
the marks in Latin letters, and was typed by nobody, is one that nobody can translate."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

from django.conf import settings
from django.utils import translation

from farmbuild.common import remembered
from farmbuild.common.terms import finder
from farmbuild.history.words import choices, names

OPEN, SHUT = "⟦", "⟧"
#: Languages, each by its own name, what nobody reads as words, and zones of clocks, named as the standards do.
_ENGLISH_STILL = re.compile(
    r'<select name="language.*?</select>|<span class="secret.*?</span>|\b[0-9a-f]{64}\b|\b[A-Z]\w+/[A-Z]\w+',
    re.DOTALL,
)
#: What says of itself that it is English: names as the standards have them, and what was sent or is kept so.
_KEPT = re.compile(r'<(\w+)\b[^>]* lang="en"[^>]*>')
#: The title of a page is its heading again; that of a drawing has an id, and is heard.
_UNHEARD = re.compile(r"<(script|style)\b.*?</\1>|<title>.*?</title>", re.DOTALL)
_HEARD = re.compile(r'\b(?:title|aria-label|placeholder|alt|data-label)="([^"]*)"')
#: A number with its unit is read alike in every language that we have.
_MEASURED = re.compile(r"\d\s*(?:h|min|mm|m|ft|in|mph|km/h|rad)\b")
#: Where a value is put into a text, and what keeps apart the forms of a term.
_PLACE = re.compile(r"%\(\w+\)[sd]|%[sd]|\{\w*\}|\|")
_WORD = re.compile(r"[A-Za-zÀ-ÿ]{2,}")
#: Units in a heading or beside a box, currencies, the name of the program, and that of a language by itself.
_STAYS = frozenset({"mm", "ft", "in", "mph", "km", "USD", "EUR", "Español", "farmbuild"}) | {
    "lb", "kg", "mil", "ksi", "MPa", "lbf", "ANSI",
}  # fmt: skip


@contextmanager
def marked() -> Iterator[None]:
    """Whatever is put into a language stands in marks, and outside of them whatever is put into that."""
    # Terms, and what the history has kept, are looked for by what they are without marks; what is drawn once is drawn
    # anew.
    names()
    choices()
    for language, _ in settings.LANGUAGES:
        with translation.override(language):
            finder()

    def mark(real: Any) -> Any:
        return lambda *given: OPEN + _PLACE.sub(rf"{SHUT}\g<0>{OPEN}", real(*given)) + SHUT

    asked = ("gettext", "ngettext", "pgettext", "npgettext")
    marks = {name: mark(getattr(translation._trans, name)) for name in asked}
    drawn = patch.object(remembered, "get_language", lambda: f"marked {translation.get_language()}")
    with patch.multiple(translation._trans, **marks), drawn:
        yield


def without_kept(html: str) -> str:
    """Without the elements that are English, to the end of each."""
    while opened := _KEPT.search(html):
        depth, end = 0, opened.end()
        for tag in re.finditer(rf"<(/?){opened[1]}\b[^>]*>", html[opened.start() :]):
            depth += -1 if tag[1] else 1
            if not depth:
                end = opened.start() + tag.end()
                break
        html = f"{html[: opened.start()]} {html[end:]}"
    return html


def outside_of_marks(html: str) -> str:
    """What somebody reads or hears and nobody marked."""
    html = _UNHEARD.sub(" ", _ENGLISH_STILL.sub(" ", without_kept(html)))
    left, depth = [], 0
    for sign in " ".join((*_HEARD.findall(html), re.sub(r"<[^>]*>", " ", html))):
        depth += (sign == OPEN) - (sign == SHUT)
        left.append(sign if depth == 0 else " ")
    return re.sub(r"&#?\w+;", " ", "".join(left))


def words_outside(html: str) -> list[str]:
    return [word for word in _WORD.findall(_MEASURED.sub(" ", outside_of_marks(html))) if word not in _STAYS]
