"""What plans answer when rooms below them ask."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.urls import reverse

from farmbuild.common.speaking import said
from farmbuild.measure import count_noun
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.models import Organisation
from farmbuild.plans import outdated
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan
from farmbuild.plans.phases.selectors import phases_of, phases_of_houses
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.materials_balance import MaterialsBalance
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated
from farmbuild.sites.phases import PlanPhase


def tell_what_is_outdated(sender: Any, *, house: House, **more: Any) -> list[Outdated]:
    return outdated.outdated_by(house=house)


def tell_phases_of_houses(
    sender: Any, *, organisation: Organisation, houses: Collection[int], **more: Any
) -> dict[int, PlanPhase]:
    found = phases_of_houses(organisation=organisation, houses=houses)
    return {
        house: PlanPhase(str(one.plan), one.plan.get_absolute_url(), one.phase.label) for house, one in found.items()
    }


def tell_materials_balance(sender: Any, *, house: House, **more: Any) -> MaterialsBalance | None:
    organisation = house.organisation
    if spec_problems(house, organisation.unit_system):
        return None
    balance = balances(organisation=organisation, houses=[house], loaded=True)[house.pk]
    pieces = balance.pieces
    return MaterialsBalance(
        *(int(pieces[name]) for name in ("needed", "in_house", "held", "on_order", "to_find")),
        short=len(balance.short),
        too_much=len(balance.surely_too_much),
        url=reverse("plans:house-held", args=[house.slug]),
    )


def tell_phases(sender: Any, *, organisation: Organisation, plans: Collection[int], **more: Any) -> dict[int, str]:
    return {plan: said(phase.label) for plan, phase in phases_of(organisation=organisation, plans=plans).items()}


def tell_changed_houses(
    sender: Any, *, organisation: Organisation, plans: Collection[int], **more: Any
) -> dict[int, list[str]]:
    return outdated.changed_houses(organisation=organisation, plans=plans)


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    plans = Plan.objects.of(organisation).count()
    return [count_noun(plans, _("plan"), _("plans"))] * bool(plans)
