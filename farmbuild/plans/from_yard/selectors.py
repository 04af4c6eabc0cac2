"""Searches of the yard, and who could build from it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.from_yard.bridge import Held, pack_asked
from farmbuild.plans.models import Plan, PlanFromYard
from farmbuild.plans.reserving.selectors import held_among
from farmbuild.plans.signals import asking_builders
from farmbuild.sites.selectors import houses_with_materials


def searches_of(*, organisation: Organisation) -> QuerySet[PlanFromYard]:
    return PlanFromYard.objects.of(organisation)


def search_of(*, plan: Plan, by: str) -> PlanFromYard | None:
    """Without who could build, which is long."""
    return PlanFromYard.objects.filter(plan=plan, by=by).first()


def asked_now(*, plan: Plan, start: datetime) -> Any:
    """Who could build the houses of the plan from ``start`` on, and what they hold, as it is stored."""
    houses = list(houses_with_materials(organisation=plan.organisation).filter(plans=plan).order_by("slug"))
    answers = asking_builders.send(Plan, organisation=plan.organisation, houses=houses, start=start)
    held = held_among(organisation=plan.organisation, houses=[house.pk for house in houses])
    return pack_asked(next((builders for _, builders in answers), None), [Held(*row) for row in held])


def has_changed(*, search: PlanFromYard) -> bool:
    """Whether crews, benders, their work or what houses hold are others since, or another day has come."""
    zone = zone_of(organisation=search.organisation)
    if search.starts_at.astimezone(zone).date() != today_of(organisation=search.organisation):
        return True
    return bool(asked_now(plan=search.plan, start=search.starts_at) != search.asked)
