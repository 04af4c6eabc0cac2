"""The table of what the trial hoops of a bender measured."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn
from farmbuild.hoops.batches.bridge import Verdict
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.hoops.batches.words import VERDICTS


class MeasuredTable(FarmTable):
    """Accepted trial hoops; ``rated`` is the radius to compare with."""

    phone = (("batch", "effective_radius"), ("off", "at", "tube"))

    batch = tables.Column(gettext_lazy("Batch"), orderable=False)
    at = DayColumn(gettext_lazy("Accepted on"), orderable=False)
    tube = tables.Column(gettext_lazy("Pipe"), accessor="batch__recipe__tube__name", orderable=False)
    free_span = LengthColumn(verbose_name=gettext_lazy("Free span"), orderable=False)
    effective_radius = LengthColumn(verbose_name=gettext_lazy("Radius"), orderable=False)
    off = LengthColumn(verbose_name=gettext_lazy("Against rated"), accessor="effective_radius", orderable=False)
    accept_reason = tables.Column(gettext_lazy("Accepted outside tolerance"), orderable=False, default="")

    class Meta:
        model = TrialHoop
        fields = ("batch", "at", "tube", "free_span", "effective_radius", "off", "accept_reason")

    def __init__(self, *args: Any, rated: Decimal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rated = rated

    def row_link(self, record: Any) -> str:
        return record.batch.get_absolute_url()

    def render_accept_reason(self, value: str, record: TrialHoop) -> str:
        """Empty for one within the tolerance."""
        return f"{VERDICTS[Verdict(record.verdict)]}: {value}"

    def render_off(self, value: Decimal, column: LengthColumn) -> Any:
        return column.shown(value - self.rated, self)
