"""The list of a first season, on whatever page asks for it."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.plans.first_season.steps import FirstSeason, first_season_of

register = template.Library()
#: Of a request: a page that names the list twice asks once.
_KEPT = "_first_season"


@register.simple_tag(takes_context=True)
def first_season(context: dict[str, Any]) -> FirstSeason | None:
    """``{% first_season as season %}``: the list, or None where it is over."""
    request = context["request"]
    if getattr(request, "organisation", None) is None:
        return None
    if not hasattr(request, _KEPT):
        setattr(request, _KEPT, first_season_of(organisation=request.organisation, user=request.user))
    return getattr(request, _KEPT)
