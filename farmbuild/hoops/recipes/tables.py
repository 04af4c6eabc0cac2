"""Tables of recipes, of all and of those bent on one bender."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable, LengthColumn, QuantityColumn
from farmbuild.hoops.recipes.bridge import free_span
from farmbuild.hoops.recipes.models import Recipe


class RecipeTable(FarmTable):
    phone = (("name", "sticks"), ("free_span", "radius", "tube"))
    phone_words = {"radius": gettext_lazy("Radius")}

    name = tables.Column(gettext_lazy("Recipe"))
    tube = tables.Column(gettext_lazy("Pipe"), accessor="tube__name")
    sticks = QuantityColumn(verbose_name=gettext_lazy("Sticks"))
    stick_length = LengthColumn(verbose_name=gettext_lazy("Stick"))
    radius = LengthColumn(verbose_name=gettext_lazy("Bend radius"))
    free_span = LengthColumn(verbose_name=gettext_lazy("Free span"), accessor="pk", orderable=False)

    class Meta:
        model = Recipe
        fields = ("name", "tube", "sticks", "stick_length", "radius", "free_span")
        order_by = "name"
        empty_text = gettext_lazy("No recipes here.")

    def row_link(self, record: Any) -> str:
        return reverse("hoops:recipe", args=[record.slug])

    def render_free_span(self, record: Recipe, column: LengthColumn) -> str:
        return column.shown(free_span(record), self)


class RecipesOnTable(FarmTable):
    name = tables.Column(gettext_lazy("Recipe"), orderable=False)
    tube = tables.Column(gettext_lazy("Pipe"), accessor="tube__name", orderable=False)
    sticks = QuantityColumn(verbose_name=gettext_lazy("Sticks"), orderable=False)
    radius = LengthColumn(verbose_name=gettext_lazy("Radius"), orderable=False)

    class Meta:
        model = Recipe
        fields = ("name", "tube", "sticks", "radius")

    def row_link(self, record: Any) -> str:
        return reverse("hoops:recipe", args=[record.slug])
