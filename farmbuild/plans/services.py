"""Making plans and working them out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext

from farmbuild.common.long_work import AskedToEnd, Claim, WorkStopped, end_early, listed, run_claimed, try_again
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.selectors import plan_of
from farmbuild.sites.models import House, Site

#: Days beyond these are slips of the key; calendars near their ends cannot take a lead time.
YEARS = range(2000, 2101)
UNEXPECTED = (
    "The plan could not be worked out because of a fault in the program, not in what you entered. Nothing "
    "was stored. Try again; if it stops again, tell whoever runs the server."
)
NONE_LEFT = "None of this plan's houses is left: all are archived. Choose houses for a new plan."
NEWER = (
    "This plan was asked for in a newer version of the program than the one that works it out. Bring the program up to"
    " date on every machine that works out plans, then try again."
)


@dataclass(frozen=True)
class PlanRequest:
    """``same``: the plan was there already, with exactly these inputs."""

    plan: Plan
    same: bool


@needs(Act.PLAN)
@transaction.atomic
def create_plan(
    *,
    organisation: Organisation,
    user: User,
    name: str,
    houses: Collection[House],
    delivery_site: Site,
    as_of: date,
    from_common: bool = False,
) -> PlanRequest:
    """Store a snapshot of everything that decides the plan; it still has to be worked out.

    Where a plan with the same inputs is there that has not stopped, it is the answer already and is given
    back. Raises ValidationError by field.
    """
    # The lock makes numbers run without gaps or repeats, and keeps a double press from making two plans.
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    chosen = {house.pk for house in houses}
    if not chosen:
        raise ValidationError({"houses": gettext("Tick at least one house.")})
    if as_of.year not in YEARS:
        raise ValidationError(
            {
                "as_of": gettext("Type a date from %(years)s to %(years_2)s, for example 2027-05-12.")
                % {"years": YEARS[0], "years_2": YEARS[-1]}
            }
        )
    if delivery_site.organisation_id != organisation.pk:
        raise ValidationError({"delivery_site": gettext("Choose one of your own sites.")})
    season = bridge.season_for(
        organisation=organisation, houses=houses, delivery_site=delivery_site, as_of=as_of, from_common=from_common
    )
    if len(season.houses) != len(chosen):
        raise ValidationError({"houses": gettext("A ticked house has been archived or is not yours. Tick again.")})
    if words := bridge.why_too_large(season):
        raise ValidationError({"houses": words})
    inputs = bridge.pack_season(season)
    digest = bridge.digest_of(inputs)
    if same := plan_of(
        organisation=organisation, season=season, digest=digest, delivery_site=delivery_site, from_common=from_common
    ):
        return PlanRequest(same, same=True)
    plan = Plan(
        organisation=organisation,
        name=name,
        as_of=as_of,
        delivery_site=delivery_site,
        from_common=from_common,
        created_by=user,
        inputs=inputs,
        inputs_digest=digest,
    )
    store_plan(plan, houses=chosen)
    return PlanRequest(plan, same=False)


def store_plan(plan: Plan, *, houses: Collection[int]) -> None:
    """Under the next number; the caller has locked the organisation. ``houses``: keys."""
    last = Plan.objects.of(plan.organisation).aggregate(last=Max("number"))["last"] or 0
    plan.number = last + 1
    plan.full_clean()
    plan.save()
    PlanHouse.objects.bulk_create(PlanHouse(plan=plan, house_id=pk) for pk in sorted(houses))


def plan_again(*, plan: Plan, user: User, as_of: date) -> PlanRequest:
    """A new plan of the same houses that are not archived, as things stand; the old one stays as it was.

    Raises ValidationError where none is left, and as ``create_plan``.
    """
    houses = plan.houses.filter(archived_at=None, site__archived_at=None)
    if not houses:
        raise ValidationError(NONE_LEFT)
    return create_plan(
        organisation=plan.organisation,
        user=user,
        name=plan.name,
        houses=houses,
        delivery_site=plan.delivery_site,
        as_of=as_of,
        from_common=plan.from_common,
    )


@needs(Act.PLAN)
def try_plan_again(*, organisation: Organisation, user: User, plan: Plan) -> None:
    """What stopped waits for a worker again."""
    try_again(plan)


@needs(Act.PLAN)
def end_plan_early(*, organisation: Organisation, user: User, plan: Plan) -> bool:
    """The best so far is kept as the plan; False where it is worked out already."""
    return end_early(plan)


def work_out_plan(plan_id: int) -> None:
    """Work out a waiting plan and store the result, all or nothing; its orders are written when it is accepted.

    Does nothing when the plan is ready, has stopped, or is in another worker's hands. What went wrong stands
    in the plan's ``problem``.
    """
    run_claimed(Plan, plan_id, _work_out, unexpected=UNEXPECTED)


def _work_out(claim: Claim) -> None:
    plan = Plan.objects.defer("inputs", "result").select_related("organisation").get(pk=claim.pk)
    with zone_in_force(plan.organisation):
        _plan(claim, plan)


def _plan(claim: Claim, plan: Plan) -> None:
    try:
        season = bridge.season_of(plan)
        _store(claim, bridge.work_out(season, progress=claim.note, ended=AskedToEnd(claim)))
    except bridge.SeasonError as error:
        raise WorkStopped(listed(error.reasons)) from error
    except bridge.NewerVersion as error:
        raise WorkStopped(NEWER) from error


def _store(claim: Claim, result: bridge.SeasonPlan) -> None:
    packed = bridge.pack_plan(result)
    claim.finish(
        result=packed,
        result_digest=bridge.digest_of(packed),
        order_count=len(result.orders),
        order_total=sum((order.total for order in result.orders), Decimal(0)),
        first_order_by=min((order.order_by for order in result.orders), default=None),
    )
