"""The table of what the trial hoops of a bender measured."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables

from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn
from farmbuild.hoops.batches.models import TrialHoop


class MeasuredTable(FarmTable):
    """Accepted trial hoops; ``rated`` is the radius to compare with."""

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

    def row_link(self, record: Any) -> str:
        return record.batch.get_absolute_url()

    def render_off(self, value: Decimal, column: LengthColumn) -> Any:
        return column.shown(value - self.rated, self)
