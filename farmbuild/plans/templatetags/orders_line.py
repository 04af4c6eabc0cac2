"""Open orders by week, drawn on the page of orders."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.common.season_line import SeasonLine
from farmbuild.plans.season.presenters import open_orders_line

register = template.Library()


@register.simple_tag(takes_context=True)
def orders_line(context: dict[str, Any]) -> SeasonLine:
    """``{% orders_line as line %}``: two queries."""
    return open_orders_line(organisation=context["request"].organisation)
