"""Spanish says all that is asked of it, with the same places for values, and is compiled as it is written."""

from __future__ import annotations

import gettext
import re

import pytest
from django.template.base import Lexer, TokenType
from django.utils.translation.template import block_re, constant_re, endblock_re, inline_re, plural_re

from farmbuild.common.bridge import ALWAYS
from farmbuild.common.script_words import SENTENCES
from farmbuild.planning.work.cautions import CAUTIONS
from tests.languages.catalogue import LOCALE, asked_in_code, messages_of, python_files, template_files
from tests.where import ROOT

_PLACE = re.compile(r"%\(\w+\)s|%[sd]|\{\w*\}")


@pytest.fixture(scope="module")
def spanish():
    return messages_of("es")


def test_every_message_has_spanish_with_the_same_places_and_none_is_doubtful(spanish):
    assert len(spanish) > 300
    assert len({message.key for message in spanish}) == len(spanish), "a message stands there twice"
    for message in spanish:
        assert not message.fuzzy and all(said.strip() for said in message.said), message
        assert len(message.said) == (2 if message.many else 1), message
        asked = {tuple(sorted(_PLACE.findall(text))) for text in (message.one, message.many) if text}
        for said in message.said:
            assert tuple(sorted(_PLACE.findall(said))) in asked, message
            # A space at an end keeps two parts of a sentence apart.
            assert (said[:1] == " ", said[-1:] == " ") == (message.one[:1] == " ", message.one[-1:] == " "), message


def test_the_compiled_catalogue_is_the_written_one(spanish):
    with (LOCALE / "es/LC_MESSAGES/django.mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    kept = {key: text for key, text in compiled._catalog.items() if key}
    written = {}
    for message in spanish:
        key = f"{message.context}\x04{message.one}" if message.context else message.one
        if message.many:
            written |= {(key, at): said for at, said in enumerate(message.said)}
        else:
            written[key] = message.said[0]
    assert kept == written


def test_whatever_the_code_asks_for_is_there(spanish):
    known = {message.key for message in spanish}
    asked = {one: path for path in python_files() for one in asked_in_code(path)}
    assert len(asked) > 200
    assert {one: str(path.relative_to(ROOT)) for one, path in asked.items() if one not in known} == {}


def _asked_in_template(text: str) -> set[str]:
    found, inside, trimmed = set(), None, False
    for token in Lexer(text).tokenize():
        said = token.contents
        if token.token_type == TokenType.BLOCK:
            if inside is not None and (endblock_re.match(said) or plural_re.match(said)):
                whole = "".join(inside)
                found.add(" ".join(line.strip() for line in whole.strip().splitlines()) if trimmed else whole)
                inside = [] if plural_re.match(said) else None
            elif match := inline_re.match(said):
                found.add(match[1].strip("\"'"))
            elif block_re.match(said):
                inside, trimmed = [], " trimmed" in said
            found |= {each.strip("\"'") for each in constant_re.findall(said)}
        elif inside is not None:
            inside.append(f"%({said})s" if token.token_type == TokenType.VAR else said.replace("%", "%%"))
    return found


def test_whatever_a_template_asks_for_is_there(spanish):
    known = {text for message in spanish for text in (message.one, message.many)}
    missing = {}
    for path in template_files():
        asked = _asked_in_template(path.read_text(encoding="utf-8"))
        missing |= {text: path.name for text in asked if text not in known}
    assert missing == {}


def test_cautions_and_sentences_of_scripts_are_all_there(spanish):
    known = {message.one for message in spanish}
    cautions = {text for caution in CAUTIONS.values() for text in caution} | {ALWAYS}
    assert cautions <= known and {*SENTENCES} <= known
    scripts = "".join(
        (ROOT / f"farmbuild/common/static/farmbuild/{name}.js").read_text(encoding="utf-8")
        for name in ("count", "day", "day-photos", "kept", "sending", "waiting")
    )
    for text in re.findall(r'[wW]ords\(\s*"((?:[^"\\]|\\.)*)"', scripts):
        assert text in SENTENCES, text
