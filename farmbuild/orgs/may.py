"""What pages ask before they show something: ``{% if may.send %}``, and what leads nowhere for this reader."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import lru_cache
from html import unescape
from urllib.parse import urlsplit

from django.http import HttpRequest
from django.urls import Resolver404, get_script_prefix, resolve
from django.utils.html import format_html, strip_tags
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.speaking import said_either
from farmbuild.orgs.acts import Act, who_may
from farmbuild.orgs.gates import FREE, GATES, lets
from farmbuild.orgs.models import Organisation

#: Stands where something was taken out, until what is empty because of it is gone too.
_GONE = "\x00"
_NAMED = 3
_FORM = re.compile(r"<form\b([^>]*)>.*?</form>", re.DOTALL)
_LINK = re.compile(r"<a\b([^>]*)>(.*?)</a>", re.DOTALL)
_BUTTON = re.compile(r"<button\b([^>]*)>.*?</button>", re.DOTALL)
_EMPTY = re.compile(rf"<(li|ul|ol|p|nav|div|small|section)\b[^>]*>[\s{_GONE}]*{_GONE}[\s{_GONE}]*</\1>")
#: A heading of which nothing is left before the next one, or the end of what it stands in.
_BARE = re.compile(
    rf"<(h[2-4])\b[^>]*>(?:(?!</\1>).)*</\1>[\s{_GONE}]*{_GONE}[\s{_GONE}]*(?=<h[1-4]\b|</|$)", re.DOTALL
)
_NAV = re.compile(r"<nav\b.*?</nav>", re.DOTALL)
#: The words of the first thing to press.
_LABEL = re.compile(r"<(?:a|button)\b[^>]*>(.*?)</(?:a|button)>", re.DOTALL)
_MAIN = re.compile(r'<(?:a|button)\b[^>]*\bclass="[^"]*\baction\b|<form\b', re.DOTALL)


@lru_cache(maxsize=8192)
def _name_of(path: str) -> str | None:
    """Of the address behind the part that the server and the organisation stand in; None for no page of the site."""
    try:
        return resolve(path).view_name
    except Resolver404:
        return None


def _attribute(tag: str, name: str) -> str | None:
    found = re.search(rf'(?<![\w-]){name}="([^"]*)"', tag)
    return found[1].replace("&amp;", "&") if found else None


class May:
    """What this reader may do. An act is asked for by its value: ``may.send``."""

    def __init__(self, acts: Collection[Act], organisation: Organisation | None, path: str) -> None:
        self._acts, self._organisation, self._path = acts, organisation, path
        self._all = organisation is None or len(acts) == len(Act)

    def __getattr__(self, name: str) -> bool:
        try:
            return Act(name) in self._acts
        except ValueError:
            raise AttributeError(name) from None

    def opens(self, name: str) -> bool:
        """Whether the page of this name of an address may be opened."""
        return self._organisation is None or lets(name, self._acts, "GET")

    def pressable(self, markup: str) -> SafeString:
        """The markup without forms and buttons that would be refused; a link to a closed page keeps its words."""
        return mark_safe(markup if self._all else self._pressed(markup)[0])

    def main(self, markup: str) -> SafeString:
        """The same of the place of the main button, which says who may press it where this reader may not."""
        if self._all:
            return mark_safe(markup)
        left, act = self._pressed(markup, keep_words=False)
        if act in (None, Act.SEE) or self._organisation is None or _MAIN.search(left):
            return mark_safe(left)
        what = _LABEL.search(markup)
        people = [user.display_name for user in who_may(organisation=self._organisation, act=act)]
        if len(people) > _NAMED:
            people = [*people[: _NAMED - 1], gettext("another of them")]
        label = " ".join(unescape(strip_tags(what[1])).split()) if what else gettext(act.words).capitalize()
        told = {"label": label, "people": said_either(people)}
        words = gettext("“%(label)s” is for nobody here at present.")
        if people:
            words = gettext("“%(label)s” is for %(people)s.")
        return format_html('<p class="who-may">{}</p>{}', words % told, mark_safe(left))

    def _pressed(self, markup: str, *, keep_words: bool = True) -> tuple[str, Act | None]:
        """And the act that the first thing asked for that was taken out."""
        missing: list[Act] = []
        forms: list[str] = []

        def closed(address: str | None, method: str) -> bool:
            asked, prefix = urlsplit(address or ""), get_script_prefix()
            if method == "GET" and not asked.path:
                # A place of this page, or this page again.
                return False
            path = asked.path or self._path
            name = None if asked.netloc or not path.startswith(prefix) else _name_of("/" + path.removeprefix(prefix))
            if name is None or name in FREE or name not in GATES:
                return False
            if act := GATES[name].missing(self._acts, method):
                missing.append(act)
            return act is not None

        def form(match: re.Match[str]) -> str:
            if not closed(_attribute(match[1], "action"), (_attribute(match[1], "method") or "get").upper()):
                return match[0]
            forms.append(_attribute(match[1], "id") or "")
            return _GONE

        def button(match: re.Match[str]) -> str:
            elsewhere = _attribute(match[1], "formaction")
            orphan = _attribute(match[1], "form") in filter(None, forms)
            return _GONE if orphan or (elsewhere and closed(elsewhere, "GET")) else match[0]

        def link(match: re.Match[str]) -> str:
            if not closed(_attribute(match[1], "href"), "GET"):
                return match[0]
            return match[2] if keep_words and _is_of_words(match) else _GONE

        def links_of_nav(match: re.Match[str]) -> str:
            return _LINK.sub(lambda each: _GONE if closed(_attribute(each[1], "href"), "GET") else each[0], match[0])

        found = _BUTTON.sub(button, _FORM.sub(form, markup))
        found = _LINK.sub(link, _NAV.sub(links_of_nav, found))
        if _GONE not in found:
            return found, missing[0] if missing else None
        while (fewer := _BARE.sub(_GONE, _EMPTY.sub(_GONE, found))) != found:
            found = fewer
        return found.replace(_GONE, ""), missing[0] if missing else None


def _is_of_words(link: re.Match[str]) -> bool:
    """Whether words around it, or what it names, are to be read without it: no button, and not alone in its place."""
    css = (_attribute(link[1], "class") or "").split()
    if {"button", "action"} & set(css):
        return False
    if {"row-link", "line-link"} & set(css):
        return True
    before, after = link.string[: link.start()].rstrip(), link.string[link.end() :].lstrip()
    alone = before.endswith((">", _GONE)) and after.startswith(("<", _GONE))
    return (
        not alone or bool(re.search(r"<(?:td|dd|th|text|g|strong|h[1-4])\b[^>]*>$", before)) or not strip_tags(link[2])
    )


def may(request: HttpRequest) -> dict[str, May]:
    """The context processor."""
    organisation = getattr(request, "organisation", None)
    return {"may": May(getattr(request, "acts", frozenset()), organisation, request.path)}
