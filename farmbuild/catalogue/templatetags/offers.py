"""Where a missing offer is added, on pages that say that it is missing."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

from farmbuild.catalogue.tables import wanted_address

register = template.Library()


@register.simple_tag(takes_context=True)
def offer_wanted(context: dict[str, Any], code: str, length: Decimal | None = None) -> str:
    """The address of the form, which leads back to this page. ``length``: where sticks of just that are wanted."""
    return wanted_address(code, length=length, back=context["request"].get_full_path())
