"""Reads of benders, with the radius that the latest accepted trial hoop measured."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from farmbuild.catalogue.models import Material
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import Organisation

#: Verdicts of trial hoops that are arcs, within the tolerance or not: only their span tells of the radius.
ARCS = ("accepted", "over-bent", "under-bent")


def benders_of(*, organisation: Organisation) -> QuerySet[Bender]:
    """Benders that are not archived, by name."""
    return Bender.objects.of(organisation).filter(archived_at=None).order_by("name", "pk")


def benders_for_tube(*, organisation: Organisation, tube: Material) -> list[Bender]:
    """Those in use that are said to fit it; any tube fits where none is named."""
    rows = benders_of(organisation=organisation).prefetch_related("tubes")
    return [bender for bender in rows if not (tubes := bender.tubes.all()) or tube in tubes]


def any_bender_of(*, organisation: Organisation) -> QuerySet[Bender]:
    """Archived or not, with ``measured_radius`` and ``measured_at`` of the latest accepted trial hoop (None without
    one) and ``recipe_count``, the recipes in use that are bent on it."""
    on_it = Bender.objects.filter(pk=OuterRef("pk"), batches__accepted_trial__verdict__in=ARCS)
    latest = on_it.order_by("-batches__accepted_trial__at", "-batches__accepted_trial__pk")
    return (
        Bender.objects.of(organisation)
        .select_related("organisation")
        .prefetch_related("tubes")
        .annotate(
            measured_radius=Subquery(latest.values("batches__accepted_trial__effective_radius")[:1]),
            measured_at=Subquery(latest.values("batches__accepted_trial__at")[:1]),
            recipe_count=Count("recipes", filter=Q(recipes__archived_at=None)),
        )
        .order_by("name", "pk")
    )


def measured_radius_of(*, bender: Bender, tube_id: int | None = None) -> Decimal | None:
    """Of the latest accepted trial hoop: of that tube where there is one, else of any; None without any."""
    batches = bender.batches.filter(accepted_trial__verdict__in=ARCS).order_by(
        "-accepted_trial__at", "-accepted_trial__pk"
    )
    radii = batches.values_list("accepted_trial__effective_radius", flat=True)
    of_that_tube = radii.filter(recipe__tube=tube_id).first() if tube_id else None
    return radii.first() if of_that_tube is None else of_that_tube
