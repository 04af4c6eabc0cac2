"""A house changes after its orders went out: planned again, and accepted as one act with notes to suppliers."""

from __future__ import annotations

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.accepting import accept_plan, accepted_houses, house_plan
from farmbuild.plans.house_changes import change_of
from farmbuild.plans.models import Plan
from farmbuild.plans.services import PlanRequest, create_plan
from farmbuild.sites.models import House

MEANWHILE = "What is held or ordered has changed since this page was shown, so nothing was done. Look again."


@needs(Act.PLAN)
def plan_change(*, organisation: Organisation, user: User, house: House, as_of: date) -> PlanRequest:
    """A plan of the house as it is now, with the others that its accepted plan builds.

    Raises ValidationError when it is in no accepted plan.
    """
    plan = house_plan(house=house)
    if plan is None or plan.organisation_id != organisation.pk:
        raise ValidationError(
            gettext("%(house_name)s is in no accepted plan, so there is nothing to change. Plan it.")
            % {"house_name": house.name}
        )
    houses = accepted_houses(plan=plan).filter(archived_at=None, site__archived_at=None)
    return create_plan(
        organisation=organisation,
        user=user,
        name=plan.name,
        houses=houses,
        delivery_site=plan.delivery_site,
        as_of=as_of,
        from_common=plan.from_common,
    )


@needs(Act.ACCEPT)
@transaction.atomic
def accept_change(*, organisation: Organisation, user: User, plan: Plan, seen: str) -> Plan:
    """Accept the plan, if its change is the one ``seen``. Raises as ``accept_plan``, and ValidationError if not."""
    # Two people who accept at once come one after the other: the second finds another change, or none.
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    current = Plan.objects.of(organisation).defer("inputs", "result").get(pk=plan.pk)
    if current.state != Plan.State.READY or current.is_accepted:
        return accept_plan(organisation=organisation, user=user, plan=current)
    if change_of(plan=current).seen != seen:
        raise ValidationError(MEANWHILE)
    return accept_plan(organisation=organisation, user=user, plan=current)
