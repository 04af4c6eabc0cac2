"""Words that stand in a template itself escape translation: none does."""

from __future__ import annotations

import re
from pathlib import Path

from django.template.base import Lexer, TokenType
from django.utils.translation.template import block_re, endblock_re

from tests.languages.catalogue import template_files
from tests.where import ROOT

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


def test_templates_have_no_words_of_their_own():
    found = {path.relative_to(ROOT).as_posix(): words for path in template_files() if (words := words_in(path))}
    assert found == {}


def test_words_are_found_where_somebody_reads_or_hears_them(tmp_path):
    path = tmp_path / "page.html"
    path.write_text(
        '{% load i18n %}<p title="Read">{{ name }} said</p>{% translate "kept" %}'
        '{% blocktranslate %}also {{ kept }}{% plural %}all{% endblocktranslate %}<script>let no = "word";</script>'
        '<a href="/address/" class="button">&middot; § 12</a><img alt="{% translate \'kept\' %}">'
    )
    assert words_in(path) == ["Read", "said"]
