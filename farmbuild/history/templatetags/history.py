"""What changed of a record, folded on its page."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.history.presenters import last_of

register = template.Library()


@register.inclusion_tag("history/of_record.html", takes_context=True)
def what_changed(context: dict[str, Any], row: Any) -> dict[str, Any]:
    """``{% what_changed house %}``: the last ten changes and the way to all, by one query."""
    return last_of(row, context["request"])
