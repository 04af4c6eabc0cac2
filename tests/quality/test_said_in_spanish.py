"""No English of ours is on a page that a crew opens in Spanish, in either system of units: the demo season is walked
with marks around all that is put into a language, and what people called things is taken out."""

from __future__ import annotations

import re
from html import escape

import pytest
from django.urls import resolve

from tests.languages.marks import words_outside
from tests.size import sized
from tests.walks import SIGN


def without_names(html: str, names: list[str]) -> str:
    """A term that is linked inside a name is part of it; a space that does not break is a space; of a name that is cut
    off for a drawing nothing is read."""
    html = re.sub(r'<a class="term"[^>]*>(.*?)</a>', r"\1", re.sub("[\xa0\u202f]", " ", html))
    html = re.sub(r"[\w’]+…", " ", html)
    for name in names:
        for said in {name, escape(name)}:
            if said in html:
                html = re.sub(rf"(?<!\w){re.escape(said)}(?!\w)", " ", html)
    return html


@pytest.mark.django_db
@pytest.mark.parametrize("units", SIGN)
def test_a_crew_reads_no_english_of_ours(walked, units):
    walk = walked(units, SIGN[units])
    assert len(walk.spanish) > 50
    escaped = {
        path: words
        for path, html in walk.spanish.items()
        if (words := words_outside(without_names(html, walk.typed_names)))
    }
    assert escaped == {}


VALUE = re.compile(r"%\(\w+\)[sd]")
UNREAD = re.compile(r"<(script|style)\b.*?</\1>|<[^>]*>", re.DOTALL)
#: Of a page of the office so many words that are English still, by the name of its address; what a customer was sent
#: and what a plan keeps say it as they were made, in elements with that ``lang``. Units, and initials of people, are no
#: words. Days have other words each day, so there is room. Nothing raises a number.
LEFT = {
    "crew:member-sign-in": 8,
    "history:changes": 6,
    "plans:leftovers": 18,
    "quotes:change": 24,
    "quotes:house-new": 20,
    "quotes:job": 16,
    "sites:house": 67,
    "stock:yard": 20,
}
#: Of any other page: what people typed where we do not know of it.
TYPED_ELSEWHERE = 3


@pytest.mark.django_db
@pytest.mark.parametrize("units", sized(["imperial"], [*SIGN]))
def test_the_office_reads_no_english_of_ours(walked, units):
    walk = walked(units, SIGN[units])
    assert len(walk.marked) > 250
    # A value that nobody put in.
    assert [path for path, html in walk.marked.items() if VALUE.search(UNREAD.sub("", html))] == []
    escaped: dict[str, list[str]] = {}
    for path, html in walk.marked.items():
        if words := words_outside(without_names(html, walk.typed_names)):
            escaped.setdefault(resolve(path).view_name, []).extend(words)
    assert {name: words for name, words in escaped.items() if len(words) > LEFT.get(name, TYPED_ELSEWHERE)} == {}
