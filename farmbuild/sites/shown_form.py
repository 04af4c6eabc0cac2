"""The form of a house as its pages show it: its fields, and the house beside them."""

from __future__ import annotations

from django.http import HttpRequest
from django.template.loader import render_to_string

from farmbuild.sites.forms import HouseForm
from farmbuild.sites.house_form import folded_form
from farmbuild.sites.own_rows import OwnRows
from farmbuild.sites.picture import picture_of


def shown_form(request: HttpRequest, form: HouseForm, rows: OwnRows, draw_url: str) -> dict[str, str]:
    """``beside`` and ``fields`` of ``sites/house_form.html``; ``draw_url`` draws what is typed."""
    picture = picture_of(form, rows)
    given = {"form": form, "rows": rows, "folded": folded_form(form, rows), "picture": picture, "draw_url": draw_url}
    return {name: render_to_string(f"sites/house_form_{name}.html", given, request) for name in ("beside", "fields")}
