"""Tables of benders and of what their trial hoops measured."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, QuantityColumn
from farmbuild.hoops.models import Bender, Recipe, TrialHoop


class BenderTable(FarmTable):
    row_link = lambda record: reverse("hoops:bender", args=[record.slug])  # noqa: E731

    name = tables.Column("Bender")
    rated_span = LengthColumn(verbose_name="House span")
    rated_radius = LengthColumn(verbose_name="Rated radius")
    measured_radius = LengthColumn(verbose_name="Measured", default="not yet")
    measured_at = DayColumn("Last measured", default="never")
    kept_at = tables.Column("Where it is", default="not said")

    class Meta:
        model = Bender
        fields = ("name", "rated_span", "rated_radius", "measured_radius", "measured_at", "kept_at")
        empty_text = "No benders here."


class RecipesOnTable(FarmTable):
    row_link = lambda record: reverse("hoops:recipe", args=[record.slug])  # noqa: E731

    name = tables.Column("Recipe", orderable=False)
    tube = tables.Column("Pipe", accessor="tube__name", orderable=False)
    sticks = QuantityColumn(verbose_name="Sticks", orderable=False)
    radius = LengthColumn(verbose_name="Radius", orderable=False)

    class Meta:
        model = Recipe
        fields = ("name", "tube", "sticks", "radius")


class MeasuredTable(FarmTable):
    """Accepted trial hoops; ``rated`` is the radius to compare with."""

    row_link = lambda record: record.batch.get_absolute_url()  # noqa: E731

    batch = tables.Column("Batch", orderable=False)
    at = DayColumn("Accepted on", orderable=False)
    tube = tables.Column("Pipe", accessor="batch__recipe__tube__name", orderable=False)
    free_span = LengthColumn(verbose_name="Free span", orderable=False)
    effective_radius = LengthColumn(verbose_name="Radius", orderable=False)
    off = LengthColumn(verbose_name="Against rated", accessor="effective_radius", orderable=False)

    class Meta:
        model = TrialHoop
        fields = ("batch", "at", "tube", "free_span", "effective_radius", "off")

    def __init__(self, *args: Any, rated: Decimal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rated = rated

    def render_off(self, value: Decimal, column: LengthColumn) -> Any:
        return column.shown(value - self.rated, self)
