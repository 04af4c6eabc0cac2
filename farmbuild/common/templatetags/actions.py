"""The buttons of a page: one main button, what else can be done folded beside it, and nothing that would be refused."""

from __future__ import annotations

import re

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import mark_safe

register = template.Library()
_THING = re.compile(r"<(?:a|button)\b")


def _pressable(context: template.Context, markup: str) -> str:
    """Without what this reader may not press; of a page that no request asked for, all of it."""
    may = context.get("may")
    return may.pressable(markup) if may else markup


class _MoreNode(template.Node):
    def __init__(self, nodelist: template.NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: template.Context) -> str:
        inside = _pressable(context, self.nodelist.render(context))
        # One button is no longer than the fold that would hide it; none needs no fold.
        if len(_THING.findall(inside)) < 2:
            return inside
        return render_to_string("parts/more.html", {"inside": mark_safe(inside)})


@register.tag
def more(parser: template.base.Parser, token: template.base.Token) -> _MoreNode:
    """Links and forms that a page has besides its main button, folded under one "More"; a single one stands open."""
    nodelist = parser.parse(("end_more",))
    parser.delete_first_token()
    return _MoreNode(nodelist)


class _PressableNode(template.Node):
    def __init__(self, nodelist: template.NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: template.Context) -> str:
        return _pressable(context, self.nodelist.render(context))


@register.tag
def pressable(parser: template.base.Parser, token: template.base.Token) -> _PressableNode:
    """What it holds without the forms, buttons and links that this reader would be refused."""
    nodelist = parser.parse(("end_pressable",))
    parser.delete_first_token()
    return _PressableNode(nodelist)


class _MainButtonNode(_PressableNode):
    def render(self, context: template.Context) -> str:
        inside = self.nodelist.render(context)
        may = context.get("may")
        return may.main(inside) if may else inside


@register.tag
def main_button(parser: template.base.Parser, token: template.base.Token) -> _MainButtonNode:
    """The same around the main button: where it is taken out, one sentence says who may."""
    nodelist = parser.parse(("end_main_button",))
    parser.delete_first_token()
    return _MainButtonNode(nodelist)
