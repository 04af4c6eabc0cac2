"""Reads of what was bent on a bender."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import ARCS


def accepted_trials_of(*, bender: Bender) -> QuerySet[TrialHoop]:
    """The latest first, with batch, recipe and tube loaded."""
    rows = TrialHoop.objects.filter(accepted=True, batch__bender=bender, batch__organisation=bender.organisation_id)
    return rows.select_related("batch__recipe__tube", "batch__recipe__sleeve_material").order_by("-at", "-pk")


def with_a_radius(trials: QuerySet[TrialHoop]) -> QuerySet[TrialHoop]:
    """Those that are arcs, within the tolerance or not: the others tell nothing of the radius of the bender."""
    return trials.filter(verdict__in=ARCS)


def batches_on(*, bender: Bender) -> QuerySet[HoopBatch]:
    """The latest first, with the recipe loaded."""
    rows = HoopBatch.objects.of(bender.organisation_id).filter(bender=bender)
    return rows.select_related("recipe").order_by("-number")


def services_of(*, bender: Bender) -> QuerySet[ServiceRecord]:
    """The latest first, those taken back too."""
    rows = ServiceRecord.objects.of(bender.organisation_id).filter(bender=bender)
    return rows.select_related("bender", "organisation").order_by("-day", "-pk")


def measured_hoops_of(*, bender: Bender) -> QuerySet[MeasuredHoop]:
    """The latest first, those taken back too."""
    rows = MeasuredHoop.objects.of(bender.organisation_id).filter(bender=bender)
    return rows.select_related("bender", "tube", "member", "organisation").order_by("-day", "-pk")
