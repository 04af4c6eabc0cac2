"""Hoops of several recipes beside each other, to one scale: which is which is seen before it is read."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.hoops.recipes.bridge import BentHoop, GeometryError, bend_recipe_of
from farmbuild.hoops.recipes.models import Recipe

#: Hoops drawn at most, and how wide the widest of them is, rem.
MOST, WIDEST = 8, 9.0
#: Points of a drawn hoop; it is small.
_POINTS = 48


def side_by_side(recipes: Iterable[Recipe]) -> list[tuple[Recipe, SafeString, str]]:
    """Those of the first recipes that make a hoop, with its free span; each with tube and organisation loaded."""
    found = [(recipe, hoop) for recipe in islice(recipes, MOST) if (hoop := _hoop(recipe))]
    widest = max((hoop.span for _, hoop in found), default=1)
    return [
        (recipe, _outline(recipe, hoop, WIDEST / widest), length_text(hoop.span, recipe.organisation.unit_system))
        for recipe, hoop in found
    ]


def _hoop(recipe: Recipe) -> BentHoop | None:
    try:
        return bend_recipe_of(recipe).hoop
    except GeometryError:
        return None


def _outline(recipe: Recipe, hoop: BentHoop, scale: float) -> SafeString:
    """``scale``: rem a mm."""
    wide, high = hoop.span * scale, hoop.rise * scale
    points = " ".join(
        f"{round((x + hoop.span / 2) * scale, 3)},{round((hoop.rise - y) * scale, 3)}" for x, y in hoop.outline(_POINTS)
    )
    units = recipe.organisation.unit_system
    said = gettext("Free span %(span)s, rise %(rise)s") % {
        "span": length_text(hoop.span, units),
        "rise": length_text(hoop.rise, units),
    }
    return format_html(
        '<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{}" width="{}rem" height="{}rem"'
        ' viewBox="0 0 {} {}"><polyline points="{}"/></svg>',
        said, *(round(one, 3) for one in (wide, high, wide, high)), points,
    )  # fmt: skip
