"""Searches for savings."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan, PlanSavings


def searches_of(*, organisation: Organisation) -> QuerySet[PlanSavings]:
    return PlanSavings.objects.of(organisation)


def search_of(*, plan: Plan) -> PlanSavings | None:
    return PlanSavings.objects.filter(plan=plan).first()
