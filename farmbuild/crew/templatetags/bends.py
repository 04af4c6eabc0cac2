"""The tasks of the houses of a batch, on the page of the batch."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.common.speaking import said
from farmbuild.crew.actuals.bends import bend_tasks_of
from farmbuild.crew.bridge import WorkKind, unit_names
from farmbuild.crew.models import Kind
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.measure import UnitSystem

register = template.Library()


@register.inclusion_tag("crew/gate/bend_tasks.html")
def bend_tasks(batch: HoopBatch) -> dict[str, Any]:
    """One query."""
    return {"tasks": bend_tasks_of(batch=batch), "unit": said(unit_names(WorkKind(Kind.BEND), UnitSystem.IMPERIAL)[1])}
