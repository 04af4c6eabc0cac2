"""Photos of a problem wherever it stands."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.crew.models import Actual
from farmbuild.crew.problems.words import photos_shown

register = template.Library()


@register.inclusion_tag("crew/problems/photos.html")
def problem_photos(actual: Actual) -> dict[str, Any]:
    """Thumbnails that open whole, and words for those taken away. Inside ``{% timezone %}``."""
    shown = photos_shown(actual)
    there = [one for one in shown if not one.gone]
    return {
        "photos": there,
        "added": list(dict.fromkeys(one.added for one in there if one.added)),
        "gone": [one.gone for one in shown if one.gone],
    }
