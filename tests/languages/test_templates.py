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
    "403.html 403_csrf.html 404.html 500.html access/account.html access/crumbs.html access/forgotten.html"
    " access/join.html access/join_code.html access/join_not.html access/join_signed_in.html access/log.html"
    " access/log_lines.html access/name.html access/papers.html access/password_link.html access/sign_in_code.html"
    " access/sign_in_rows.html access/sign_ins.html access/step_off.html access/step_on.html access/step_papers.html"
    " access/weekly.html access/weekly_end.html base.html busy.html change_password.html coop/common/panel.html"
    " coop/common/seen coop/joint/panel.html coop/joint/seen coop/joint/share.html coop/joint/sums.html"
    " coop/members/leave.html coop/members/own_farm.html coop/members/seen.html coop/pipe/ask.html coop/pipe/body.html"
    " coop/pipe/crumbs.html coop/pipe/how.html coop/pipe/panel.html coop/pipe/return.html coop/pipe/seen"
    " coop/statement/body.html coop/statement/days.html coop/statement/own_account.html coop/statement/own_damage.html"
    " coop/statement/panel.html crew/bookings/crumbs.html crew/bookings/own crew/calendar_actions.html"
    " crew/calendar_address.html crew/daylist crew/gate crew/hours/other.html crew/hours/other_form.html"
    " crew/hours/run.html crew/offline crew/problems crew/schedule/strokes.html crew/schedule/task.html"
    " crew/steps/facts.html crew/wind/entry.html crew/wind/forecast_form.html crew/wind/lines.html"
    " crew/wind/notes.html database_failed.html forms hoops/batches/attempt.html hoops/batches/batch.html"
    " hoops/batches/bent.html hoops/batches/measure.html hoops/batches/outdated_state.html hoops/batches/sheet.html"
    " hoops/batches/take_back.html hoops/fits moving/erase_own.html orgs/choose.html orgs/choose_for_a_press.html"
    " orgs/who_may.html parts/cautions.html parts/figures.html parts/know.html parts/messages.html parts/more.html"
    " parts/pages.html parts/who.html parts/worked.html plans/cut_proof.html plans/cutting.html plans/from_yard"
    " plans/part.html plans/strip.html set_password.html sign_in.html stock/labels tables too_large.html"
)
#: Of the other templates, words by room, with room for a hundred or two. A room that is put into gettext lowers its
#: number, and nothing raises it.
LEFT = {
    "access": 300,
    "api": 300,
    "buying": 1900,
    "catalogue": 700,
    "coop": 1600,
    "costs": 500,
    "crew": 2700,
    "drawings": 200,
    "guide": 2300,
    "history": 100,
    "hoops": 1300,
    "moving": 300,
    "orgs": 200,
    "parts": 100,
    "plans": 2650,
    "projects": 300,
    "quotes": 1900,
    "sites": 800,
    "stock": 2000,
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
