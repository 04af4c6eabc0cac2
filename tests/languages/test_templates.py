"""Words that stand in a template itself escape translation: none in rooms that speak Spanish, and fewer and fewer in
the others."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from django.template.base import Lexer, TokenType
from django.utils.translation.template import block_re, endblock_re

from tests.languages.catalogue import template_files
from tests.where import ROOT

#: Templates that have no words of their own any more; a folder stands for all in it.
SPOKEN = (
    "403.html 403_csrf.html 404.html 500.html access api base.html busy.html buying catalogue change_password.html"
    " coop costs crew database_failed.html django drawings forms guide/explained.html history hoops moving orgs parts"
    " plans projects quotes set_password.html sign_in.html sites stock tables too_large.html"
)
#: Of the other templates, words by room, with room for a hundred or two. A room that is put into gettext lowers its
#: number, and nothing raises it.
LEFT = {
    "guide": 2300,
}
#: Attributes that somebody reads or hears.
_HEARD = re.compile(r'\b(?:title|aria-label|placeholder|alt|data-label)="([^"]*)"')
_SILENT = re.compile(r"<(script|style)\b.*?</\1>", re.DOTALL)
_TAG = re.compile(r"<[^>]*>", re.DOTALL)
_ENTITY = re.compile(r"&#?\w+;")
_WORD = re.compile(r"[^\W\d_]{2,}")
#: The name of the program, which is no word of any language.
_NAME = {"farmbuild"}


def words_in(path: Path) -> list[str]:
    """Words of a template that somebody would see or hear, outside of what is translated."""
    parts, inside = [], False
    for token in Lexer(path.read_text(encoding="utf-8")).tokenize():
        if token.token_type == TokenType.BLOCK:
            if endblock_re.match(token.contents):
                inside = False
            elif block_re.match(token.contents):
                inside = True
            # Values of tags are no words; a sign keeps what stands at either side apart.
            parts.append("§")
        elif token.token_type == TokenType.VAR:
            parts.append("§")
        elif token.token_type == TokenType.TEXT and not inside:
            parts.append(token.contents)
    text = _SILENT.sub(" ", "".join(parts))
    seen = [*_HEARD.findall(text), _TAG.sub(" ", text)]
    return [word for each in seen for word in _WORD.findall(_ENTITY.sub(" ", each)) if word not in _NAME]


def _is_spoken(path: Path) -> bool:
    name = path.relative_to(ROOT / "templates").as_posix()
    return any(name == one or name.startswith(f"{one}/") for one in SPOKEN.split())


def test_rooms_that_speak_spanish_have_no_words_of_their_own():
    found = {path.name: words for path in template_files() if _is_spoken(path) and (words := words_in(path))}
    assert found == {}


def test_words_that_escape_become_fewer():
    left: Counter[str] = Counter()
    for path in template_files():
        if not _is_spoken(path):
            name = path.relative_to(ROOT / "templates")
            left[name.parts[0] if len(name.parts) > 1 else "pages of the frame"] += len(words_in(path))
    assert {room: count for room, count in left.items() if count > LEFT.get(room, 0)} == {}
    slack = {room: most for room, most in LEFT.items() if left[room] < most - 300}
    assert slack == {}, "these speak more Spanish than is said here: lower their numbers"


def test_words_are_found_where_somebody_reads_or_hears_them(tmp_path):
    path = tmp_path / "page.html"
    path.write_text(
        '{% load i18n %}<p title="Read">{{ name }} said</p>{% translate "kept" %}'
        '{% blocktranslate %}also {{ kept }}{% plural %}all{% endblocktranslate %}<script>let no = "word";</script>'
        '<a href="/address/" class="button">&middot; § 12</a><img alt="{% translate \'kept\' %}">'
    )
    assert words_in(path) == ["Read", "said"]
