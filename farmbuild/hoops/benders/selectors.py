"""Reads of benders and of what their accepted trial hoops measured."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from farmbuild.hoops.models import Bender, HoopBatch, Recipe, TrialHoop
from farmbuild.orgs.models import Organisation


def benders_of(*, organisation: Organisation) -> QuerySet[Bender]:
    """Benders that are not archived."""
    return Bender.objects.of(organisation).filter(archived_at=None)


def any_bender_of(*, organisation: Organisation) -> QuerySet[Bender]:
    """Archived or not, with ``measured_radius`` and ``measured_at`` of the latest accepted trial hoop (None without
    one) and ``recipe_count``, the recipes in use that are bent on it."""
    latest = _accepted().filter(batch__bender=OuterRef("pk")).order_by("-at", "-pk")
    return (
        Bender.objects.of(organisation)
        .annotate(
            measured_radius=Subquery(latest.values("effective_radius")[:1]),
            measured_at=Subquery(latest.values("at")[:1]),
            recipe_count=Count("recipes", filter=Q(recipes__archived_at=None)),
        )
        .order_by("name", "pk")
    )


def _accepted() -> QuerySet[TrialHoop]:
    return TrialHoop.objects.filter(accepted=True)


def accepted_trials_of(*, bender: Bender) -> QuerySet[TrialHoop]:
    """The latest first, with batch, recipe and tube loaded."""
    rows = _accepted().filter(batch__bender=bender, batch__organisation=bender.organisation_id)
    return rows.select_related("batch__recipe__tube").order_by("-at", "-pk")


def measured_radius_of(*, bender: Bender, tube_id: int | None = None) -> Decimal | None:
    """Of the latest accepted trial hoop: of that tube where there is one, else of any; None without any."""
    trials = accepted_trials_of(bender=bender)
    found = trials.filter(batch__recipe__tube=tube_id).first() if tube_id else None
    found = found or trials.first()
    return found.effective_radius if found else None


def recipes_on(*, bender: Bender) -> QuerySet[Recipe]:
    """Recipes in use that are bent on it, with their tube loaded."""
    rows = Recipe.objects.of(bender.organisation_id).filter(bender=bender, archived_at=None)
    return rows.select_related("tube", "organisation")


def batches_on(*, bender: Bender) -> QuerySet[HoopBatch]:
    """The latest first, with the recipe loaded."""
    rows = HoopBatch.objects.of(bender.organisation_id).filter(bender=bender)
    return rows.select_related("recipe").order_by("-number")
