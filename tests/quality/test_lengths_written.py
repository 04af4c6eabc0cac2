"""A length cannot be misread: no bare fraction after feet, no line break inside it, one unit in a headline."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from tests.size import sized
from tests.walks import SIGN

#: 6' 15/16" is taken for 6 15/16".
BARE_FRACTION = re.compile(r"\d['′]\s?\d+/\d+")
BREAKS = re.compile(r"\d['′][ \n]+\d|\d[ \n]+\d+/\d+[\"″]|\d[ \n]+(?:mm|cm|m)\b")
FEET = re.compile(r"\d[\"'](?!\w)")
METRES = re.compile(r"\d\s?(?:mm|cm|m)\b")
SENT_BACK = {"textarea", "title", "script", "style", "option"}


class Said(HTMLParser):
    """``text``: all that is shown; ``headlines``: each heading of the page and its answer."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self.headlines = "", [""]
        self._inside: list[str] = []
        self._headline = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in SENT_BACK:
            self._inside.append(tag)
        if tag == "h1" or (tag == "p" and dict(attrs).get("class") == "answer"):
            self._headline = tag
            self.headlines.append("")

    def handle_endtag(self, tag: str) -> None:
        if self._inside and tag == self._inside[-1]:
            self._inside.pop()
        if tag == self._headline:
            self._headline = ""

    def handle_data(self, data: str) -> None:
        if not self._inside:
            # What stands in two elements is two texts.
            self.text += data + "|"
            if self._headline:
                self.headlines[-1] += data


def said(html: str) -> Said:
    found = Said()
    found.feed(html)
    return found


def around(text: str, match: re.Match[str]) -> str:
    return " ".join(text[max(0, match.start() - 40) : match.end() + 20].split())


@pytest.mark.django_db
@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_no_page_says_a_length_that_can_be_misread(walked, units):
    faults, lengths = [], 0
    for path, answer in walked(units, SIGN[units]).linked.items():
        page = said(answer.page)
        lengths += len(FEET.findall(page.text))
        for wrong in (BARE_FRACTION, BREAKS):
            faults += [f"{path}: …{around(page.text, match)}…" for match in wrong.finditer(page.text)]
        for headline in page.headlines:
            if FEET.search(headline) and METRES.search(headline):
                faults.append(f"{path}: two units in “{' '.join(headline.split())}”")
    assert lengths > sized(500, 1000)
    assert not faults, "\n".join(faults)
