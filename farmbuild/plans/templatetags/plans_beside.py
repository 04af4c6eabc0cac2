"""The newest plans, on whatever page stands beside them."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.plans.models import Plan
from farmbuild.plans.phases.selectors import Phase
from farmbuild.plans.phases.words import label_of
from farmbuild.plans.selectors import newest_with_totals

register = template.Library()
_KEPT = "_plans_beside"


@register.simple_tag(takes_context=True)
def plans_beside(context: dict[str, Any]) -> list[tuple[Plan, str]]:
    """``{% plans_beside as plans %}``: the newest, each with how far it is; one query, however often they are named."""
    request = context["request"]
    if not hasattr(request, _KEPT):
        rows = newest_with_totals(organisation=request.organisation)
        setattr(request, _KEPT, [(plan, label_of(plan, Phase(plan.phase)).lower()) for plan in rows])
    return getattr(request, _KEPT)
