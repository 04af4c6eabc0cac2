"""The buttons of a page: one main button, and what else can be done folded beside it."""

from __future__ import annotations

import re

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import mark_safe

register = template.Library()
_THING = re.compile(r"<(?:a|button)\b")


class _MoreNode(template.Node):
    def __init__(self, nodelist: template.NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: template.Context) -> str:
        inside = self.nodelist.render(context)
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
