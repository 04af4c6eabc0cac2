"""Links terms of the trade to the guide where they stand on a page: in headings, labels, helps and names of facts.

One pass over the markup of a page, so that no template and no form says which of its words is a term. The first place
on a page has the link. What is a link or a button already, and a label (which belongs to its field), gets it beside.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from django.urls import get_script_prefix
from django.utils.html import escape, strip_tags
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext

from farmbuild.common.terms import Term, finder

#: What may name a term, up to its end; a table's headings stand in its head. Links made by hand count as the first.
_PLACES = re.compile(
    r"<(?P<tag>h[1-4]|legend|dt|figcaption|label|thead)\b[^>]*>(?P<inside>.*?)</(?P=tag)>"
    r'|<(?P<block>div|ol) class="(?:help|steps)"[^>]*>(?P<text>.*?)</(?P=block)>'
    r'|<th scope="row" class="what" data-at="name">(?P<what>.*?)</th>'
    r'|<a class="term" href="(?P<href>[^"]*)"'
    r"|(?P<end></table>|</summary>)",
    re.DOTALL,
)
_HEADING = re.compile(r"<th\b[^>]*>(.*?)</th>", re.DOTALL)
_HIDDEN = re.compile(r'(<input type="hidden"[^>]*? value=")([^"]*)')
#: What stays as it is: tags, and whatever may hold no link.
_KEPT = re.compile(r"<(a|button|summary|select|textarea|svg)\b.*?</\1>|<[^>]*>", re.DOTALL)


def term_link(term: Term, words: str) -> SafeString:
    return mark_safe(f'<a class="term" href="{escape(term.href)}">{escape(words)}</a>')


def _beside(term: Term) -> str:
    """A question mark that says in words what it asks."""
    meaning = gettext("Meaning of %(term)s") % {"term": term.name}
    return (
        f' <a class="term ask" href="{escape(term.href)}"><span aria-hidden="true">?</span>'
        f'<span class="unseen">{escape(meaning)}</span></a>'
    )


class _Page:
    """What one page has linked so far."""

    def __init__(self) -> None:
        self.finder = finder()
        self.seen: set[str] = set()
        self.of_table: list[Term] = []
        self.of_fold: list[Term] = []

    def place(self, match: re.Match[str]) -> str:
        whole = match[0]
        if match["href"]:
            self.seen.add(match["href"])
            return whole
        if match["end"]:
            waiting = self.of_table if whole == "</table>" else self.of_fold
            line = self._line(waiting)
            waiting.clear()
            return whole + line
        if "<dfn" in whole:
            return whole
        # A heading that opens what is folded under it is pressed for that alone; its terms stand inside.
        if match.string[max(0, match.start() - 20) : match.start()].rstrip().endswith("<summary>"):
            self.of_fold = self._first(strip_tags(match["inside"]))
            return whole
        if match["text"] is not None:
            return self._within(match, "text")
        if match["tag"] == "thead":
            self.of_table = [
                term for heading in _HEADING.findall(match["inside"]) for term in self._first(strip_tags(heading))
            ]
            return whole
        if match["tag"] == "label":
            return whole + "".join(map(_beside, self._first(strip_tags(match["inside"]))))
        return self._within(match, "what" if match["what"] is not None else "inside")

    def _first(self, words: str) -> list[Term]:
        """The terms of a short text that the page has not linked yet."""
        alone, in_text = self.finder.alone.fullmatch(words), self.finder.in_text.finditer(words)
        found = [self.finder.term(part[0]) for part in ([alone] if alone else in_text)]
        return [term for term in dict.fromkeys(found) if self._is_new(term)]

    def _is_new(self, term: Term) -> bool:
        if term.href in self.seen:
            return False
        self.seen.add(term.href)
        return True

    def _within(self, match: re.Match[str], group: str) -> str:
        start, end = (at - match.start() for at in match.span(group))
        inside = match[group]
        if self.finder.alone.fullmatch(inside):
            words = inside.strip()
            linked = inside.replace(words, self._linked(words))
        else:
            found = self.finder.in_text
            linked = "".join(part if kept else found.sub(self._link, part) for kept, part in _parts(inside, self))
        return match[0][:start] + linked + match[0][end:]

    def _link(self, found: re.Match[str]) -> str:
        return self._linked(found[0])

    def _linked(self, words: str) -> str:
        """Words are markup already."""
        term = self.finder.term(words)
        return f'<a class="term" href="{escape(term.href)}">{words}</a>' if self._is_new(term) else words

    def _line(self, terms: list[Term]) -> str:
        """Under a table, whose headings are not seen on a phone, and in a fold."""
        if not terms:
            return ""
        links = ", ".join(term_link(term, term.name) for term in terms)
        asked = gettext("What is meant by:")
        return f'<p class="terms">{asked} {links}</p>'


def _parts(markup: str, page: _Page) -> Iterator[tuple[bool, str]]:
    """(whether it stays as it is, a part of the markup) in order."""
    at = 0
    for kept in _KEPT.finditer(markup):
        yield False, markup[at : kept.start()]
        for link in re.finditer(r'<a class="term" href="([^"]*)"', kept[0]):
            page.seen.add(link[1])
        yield True, kept[0]
        at = kept.end()
    yield False, markup[at:]


def link_terms(markup: str) -> SafeString:
    """The page with its terms linked, each once."""
    values: list[str] = []

    def take(match: re.Match[str]) -> str:
        values.append(match[2])
        return match[1]

    # Tokens of forms are others each time, and hold no term: without them the page is the same as before.
    linked = _linked(_HIDDEN.sub(take, markup), get_language(), get_script_prefix())
    back = iter(values)
    return mark_safe(_HIDDEN.sub(lambda match: match[1] + next(back), linked) if values else linked)


@lru_cache(maxsize=64)
def _linked(markup: str, _language: str | None, _start: str) -> str:
    return _PLACES.sub(_Page().place, markup)
