"""On the pages of the demo season every term of the trade leads to the guide from where it stands, once a page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

from django.utils.html import strip_tags
from django.utils.translation import override

from farmbuild.common.terms import TERMS, Term

LINK = re.compile(r'<a class="term(?: ask)?" href="([^"]+)"')
NAMING = re.compile(r"<(h[1-4]|label|legend)\b[^>]*>(.*?)</\1>", re.S)


def main_of(html: str) -> str:
    return html.split("<main", 1)[1].split("</main>", 1)[0]


def named_in(main: str) -> Iterator[tuple[str, Term]]:
    """(words, a term in them) of what names a page, a part of it or a field, in the language in force."""
    named = [(term.name, term.everyday, term) for term in TERMS.values()]
    for _, inside in NAMING.findall(main):
        if "<a " in inside and 'class="term' not in inside:
            continue
        words = re.sub(r"\s+", " ", unescape(strip_tags(inside))).casefold()
        for name, everyday, term in named:
            if words.strip() == name or (not everyday and re.search(rf"(?<![\w-]){name}(?![\w-])", words)):
                yield words, term


def test_every_term_is_linked_where_it_stands_and_no_link_leads_nowhere(walked):
    explained = {term.href for term in TERMS.values()}
    linked: set[str] = set()
    faults = []
    for path, answer in walked("imperial", ".").linked.items():
        if path.startswith("/guide/") or "<main" not in answer.page:
            continue
        main = main_of(answer.page)
        found = LINK.findall(main)
        linked.update(found)
        if len(found) != len(set(found)) or not explained >= set(found):
            faults.append(f"{path}: {found}")
        faults += [f"{path}: {term.name} in {words}" for words, term in named_in(main) if term.href not in found]
    assert not faults, "\n".join(faults)
    assert [name for name, term in TERMS.items() if term.href not in linked] == []


def test_terms_are_linked_in_spanish_by_what_they_are_called_there(walked):
    linked: set[str] = set()
    faults = []
    with override("es"):
        for path, page in walked("imperial", ".").spanish.items():
            if path.startswith("/guide/") or "<main" not in page:
                continue
            main = re.sub("[⟦⟧]", " ", main_of(page))
            found = LINK.findall(main)
            linked.update(found)
            # Between its marks no word stands alone.
            named = [(words, term) for words, term in named_in(main) if not term.everyday]
            faults += [f"{path}: {term.name} in {words}" for words, term in named if term.href not in found]
    assert not faults, "\n".join(faults)
    # A crew opens a part of the pages.
    assert len(linked) > 15
