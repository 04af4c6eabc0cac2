"""Searches of the yard, and who could build from it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.from_yard.bridge import pack_builders
from farmbuild.plans.models import Plan, PlanFromYard
from farmbuild.plans.signals import asking_builders
from farmbuild.sites.selectors import houses_with_materials


def searches_of(*, organisation: Organisation) -> QuerySet[PlanFromYard]:
    return PlanFromYard.objects.of(organisation)


def search_of(*, plan: Plan, by: str) -> PlanFromYard | None:
    """Without who could build, which is long."""
    return PlanFromYard.objects.filter(plan=plan, by=by).first()


def packed_builders(*, plan: Plan, start: datetime) -> Any:
    """Who could build the houses of the plan from ``start`` on, as it is stored; None: nobody above plans knows."""
    houses = list(houses_with_materials(organisation=plan.organisation).filter(plans=plan).order_by("slug"))
    answers = asking_builders.send(Plan, organisation=plan.organisation, houses=houses, start=start)
    return next((pack_builders(builders) for _, builders in answers), None)


def builders_changed(*, search: PlanFromYard) -> bool:
    """Whether crews, benders or their work are others since, or another day has come."""
    zone = zone_of(organisation=search.organisation)
    if search.starts_at.astimezone(zone).date() != today_of(organisation=search.organisation):
        return True
    return bool(packed_builders(plan=search.plan, start=search.starts_at) != search.builders)
