"""Tags of every page: lengths, money, workings, cautions, and the parts of base.html, forms and tables."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django import template
from django.conf import settings
from django.template.defaultfilters import length as count_of
from django.template.loader_tags import BLOCK_CONTEXT_KEY
from django.urls import get_script_prefix
from django.utils import timezone
from django.utils.html import format_html_join, strip_tags
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext

from farmbuild.common.bridge import ALWAYS, Caution, cautions_of
from farmbuild.common.markup import markup
from farmbuild.common.once import FIELD, new_token
from farmbuild.common.reading import units_of
from farmbuild.common.remembered import MOST
from farmbuild.common.script_words import words_for_scripts
from farmbuild.common.speaking import kept_words, said, said_day, said_weekday
from farmbuild.common.term_links import link_terms, term_link
from farmbuild.common.terms import term_named
from farmbuild.measure import (
    THIN_SPACE,
    NumberStyle,
    UnitSystem,
    current_style,
    format_both,
    format_count,
    format_decimal,
    format_length,
    format_money,
)

register = template.Library()
#: Runs of spaces, but those that hold a number together.
_SPACES = re.compile(rf"[^\S\u00a0{THIN_SPACE}]+")


@register.simple_tag
def once() -> SafeString:
    """In every form: however often it arrives, it counts once."""
    return markup('<input type="hidden" name="{}" value="{}">', FIELD, new_token())


@register.filter
def length(mm: Any, organisation: Any = None) -> Any:
    """In the reader's units, with the other units in small type beside it. Empty for None.

    Without an organisation it counts, as Django's own filter of this name does.
    """
    if organisation is None:
        return count_of(mm)
    if mm is None or mm == "":
        return ""
    return _both(Decimal(mm), units_of(organisation), current_style())


@register.filter
def number(value: Any) -> str:
    """A count, or a number with the decimals that it has, as the reader writes it. Empty for None."""
    if value is None or value == "":
        return ""
    return format_decimal(value.normalize()) if isinstance(value, Decimal) else format_count(int(value))


@register.filter
def how_many(of: Any) -> Any:
    """For ``{% blocktranslate count %}``, which takes numbers alone: how many a list holds, and none for nothing."""
    return of if isinstance(of, (int, float, Decimal)) else count_of(of)


@lru_cache(maxsize=4096)
def _both(mm: Decimal, units: UnitSystem, _style: NumberStyle) -> SafeString:
    """Lengths come again and again down a page; ``_style`` is that in force, by which they are written."""
    return markup('<span class="length">{} <small>{}</small></span>', *format_both(mm, units))


@register.filter
def length_plain(mm: Decimal | None, organisation: Any) -> str:
    """In the reader's units alone, as plain text in one unbroken piece. Empty for None."""
    if mm is None or mm == "":
        return ""
    return format_length(Decimal(mm), units_of(organisation)).replace(" ", "\u00a0")


@register.filter
def money(amount: Decimal | None, organisation: Any) -> str:
    """With the organisation's currency, in one unbroken piece of plain text. Empty for None."""
    if amount is None or amount == "":
        return ""
    return format_money(amount, organisation.currency).replace(" ", "\u00a0")


@register.filter(expects_localtime=True)
def day(value: date | None) -> str:
    """3 May 2027; of a moment its day by the clock in force. Empty for None."""
    local = _by_the_clock(value)
    return said_day(local) if local else ""


@register.filter(expects_localtime=True)
def weekday(value: date | None) -> str:
    """Monday 3 May 2027. Empty for None."""
    local = _by_the_clock(value)
    return said_weekday(local) if local else ""


@register.simple_tag
def today() -> str:
    """The day by the clock in force."""
    return day(timezone.now())


@register.simple_tag
def script_words() -> SafeString:
    """An attribute with what scripts say, in a language other than theirs."""
    words = words_for_scripts()
    return markup('data-words="{}"', words) if words else mark_safe("")


@register.filter
def spoken(text: Any) -> str:
    """A text that the floors without Django marked, in the language of the page."""
    return said(text)


@register.simple_tag
def lang_kept() -> SafeString:
    """On what holds words as they were kept, for who has another language read to them."""
    kept = settings.LANGUAGE_CODE
    return markup("" if get_language() == kept else ' lang="{}"', kept)


@register.filter(expects_localtime=True)
def moment(value: datetime | None) -> str:
    """3 May 2027, 14:05, by the clock in force. Empty for None."""
    local = _by_the_clock(value)
    return f"{day(local)}, {local:%H:%M}" if local else ""


def _by_the_clock(value: Any) -> Any:
    return timezone.localtime(value) if isinstance(value, datetime) and timezone.is_aware(value) else value


@register.simple_tag
def working(how: Any, kept: bool = False) -> SafeString:
    """How a number was worked out, folded away. ``how``: text, or several texts for several lines; ``kept``: in words
    that stay as they were."""
    lines = [how] if isinstance(how, str) else list(how or [])
    lines = [line for text in lines for line in text.splitlines() if line.strip()]
    if not lines:
        return mark_safe("")
    lang = lang_kept() if kept else ""
    body = format_html_join("", "<p{}>{}</p>", ((lang, line) for line in lines))
    return markup('<details class="working"><summary>{}</summary>{}</details>', gettext("How worked out"), body)


@register.inclusion_tag("parts/cautions.html")
def cautions(*kinds: Any) -> dict[str, Any]:
    """Those of each kind of work that is named, and what is said with all of them; a kind may be a list of kinds."""
    named = [kind for given in kinds for kind in ([given] if isinstance(given, str) else given)]
    return {"cautions": [Caution(*map(said, caution)) for caution in cautions_of(*named)], "always": said(ALWAYS)}


@register.simple_tag(takes_context=True)
def block_text(context: template.Context, name: str) -> str:
    """What the page puts into a block, as plain text: one block title serves the tab and the heading."""
    blocks = context.render_context.get(BLOCK_CONTEXT_KEY)
    block = blocks and blocks.get_block(name)
    return mark_safe(_SPACES.sub(" ", strip_tags(block.render(context))).strip()) if block else ""


class _IfFilledNode(template.Node):
    def __init__(self, nodelist: template.NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: template.Context) -> str:
        inside = self.nodelist.render(context)
        return inside if strip_tags(inside).strip() else ""


@register.tag
def if_filled(parser: template.base.Parser, token: template.base.Token) -> _IfFilledNode:
    """Drops what it holds when there are no words in it, such as an empty block."""
    nodelist = parser.parse(("end_if_filled",))
    parser.delete_first_token()
    return _IfFilledNode(nodelist)


class _TermsLinkedNode(template.Node):
    def __init__(self, nodelist: template.NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: template.Context) -> str:
        return link_terms(self.nodelist.render(context))


@register.tag
def terms_linked(parser: template.base.Parser, token: template.base.Token) -> _TermsLinkedNode:
    """What it holds, with each term of the trade linked to the guide where it first stands."""
    nodelist = parser.parse(("end_terms_linked",))
    parser.delete_first_token()
    return _TermsLinkedNode(nodelist)


class _KeptForNode(template.Node):
    def __init__(self, nodelist: template.NodeList, values: list[template.base.FilterExpression]) -> None:
        self.nodelist, self.values = nodelist, values
        self.kept: dict[tuple[Any, ...], str] = {}

    def render(self, context: template.Context) -> str:
        told = [value.resolve(context, ignore_failures=True) for value in self.values]
        if told[0] is None:
            # Of no request: nobody knows what it depends on.
            return self.nodelist.render(context)
        key = (get_language(), get_script_prefix(), context.autoescape, *told)
        found = self.kept.get(key)
        if found is None:
            if len(self.kept) >= MOST:
                self.kept.clear()
            found = self.kept[key] = self.nodelist.render(context)
        return found


@register.tag
def kept_for(parser: template.base.Parser, token: template.base.Token) -> _KeptForNode:
    """What it holds, made once for the language, the place of the site and the values that are named: it shows and
    asks nothing else. Values can be hashed; no block stands in it."""
    values = [parser.compile_filter(bit) for bit in token.split_contents()[1:]]
    nodelist = parser.parse(("end_kept_for",))
    parser.delete_first_token()
    return _KeptForNode(nodelist, values)


@register.simple_tag
def term(words: str, shown: str = "") -> SafeString:
    """A term in a running text, linked to the guide; for one that is an everyday word too. ``shown``: in another
    language."""
    return term_link(term_named(words), shown or words)


@register.simple_tag
def form_groups(form: Any) -> list[tuple[str, list[Any], str, str]]:
    """(heading, fields, fold, way) in the order of ``form.groups``; fields that no group names come first, without a
    heading. ``fold``: "shut" for a heading of ``form.folded``, "open" where something in it is wrong; else "".
    ``way``: the choice beside which alone the group is shown.
    """
    groups = getattr(form, "groups", ())
    named = {name for _, names in groups for name in names}
    rest = [field for field in form.visible_fields() if field.name not in named]
    shown = [(heading, [form[name] for name in names if name in form.fields]) for heading, names in groups]
    ways = getattr(form, "ways", {})
    return [
        # Both are found by what a heading is in English, whoever reads it.
        (heading, fields, _fold(form, heading, fields), ways.get(kept_words(heading), "") if ways else "")
        for heading, fields in [("", rest), *shown]
        if fields
    ]


def _fold(form: Any, heading: str, fields: Sequence[Any]) -> str:
    folded = getattr(form, "folded", ())
    if not folded or kept_words(heading) not in folded:
        return ""
    return "open" if any(field.errors for field in fields) else "shut"


@register.simple_tag
def column_unit(table: Any, bound_column: Any) -> str:
    """What stands small under a column's heading: its unit, when it has one."""
    unit_of = getattr(bound_column.column, "unit_of", None)
    return unit_of(table) if unit_of else ""
