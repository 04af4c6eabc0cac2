"""Tags of the guide's text: sizes in the reader's units, and links to the pages where a job is done."""

from __future__ import annotations

import re

from django import template
from django.urls import reverse
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from farmbuild.common.term_links import term_link
from farmbuild.common.terms import finder

register = template.Library()
_PAGE, _TERM = re.compile(r"\[(.+?)\]"), re.compile(r"\*(.+?)\*")


@register.simple_tag(takes_context=True)
def either(context: template.Context, imperial: str, metric: str) -> str:
    """A size in feet and inches, or in metres."""
    return metric if context["units"] == "metric" else imperial


@register.simple_tag(takes_context=True)
def linked(context: template.Context, text: str, *pages: str) -> SafeString:
    """A text that is one for who translates it: [words] lead to the pages in their order, *words* to a term.

    A page is linked for whoever may go there, and is its name for everybody else.
    """
    # Django looks for each either way, so a page that is gone fails for all.
    hrefs = iter([reverse(page) for page in pages])
    open_to_reader = bool(context.get("organisation"))

    def to_page(found: re.Match[str]) -> str:
        href, words = next(hrefs), mark_safe(found[1])
        return format_html('<a href="{}">{}</a>', href, words) if open_to_reader else words

    def to_term(found: re.Match[str]) -> str:
        return term_link(finder().term(found[1]), found[1])

    return mark_safe(_TERM.sub(to_term, _PAGE.sub(to_page, conditional_escape(text))))
