"""Making plans and working them out."""

from __future__ import annotations

import logging
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.db import OperationalError, transaction
from django.db.models import Max
from django.utils import timezone

from farmbuild.buying.services import OrderProblem, record_orders
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.selectors import open_to_work, plan_of
from farmbuild.sites.models import House, Site

logger = logging.getLogger(__name__)

MAX_REASONS = 20
#: Days beyond these are slips of the key; calendars near their ends cannot take a lead time.
YEARS = range(2000, 2101)
UNEXPECTED = (
    "The plan could not be worked out because of a fault in the program, not in what you entered. Nothing "
    "was stored. Try again; if it stops again, tell whoever keeps the site."
)

NEWER = (
    "This plan was asked for in a newer version of the program than the one that works it out. Bring the program up to"
    " date on every machine that works out plans, then try again."
)


@dataclass(frozen=True)
class Asked:
    """``same``: the plan was there already, with exactly these inputs."""

    plan: Plan
    same: bool


@transaction.atomic
def create_plan(
    *,
    organisation: Organisation,
    user: User,
    name: str,
    houses: Collection[House],
    delivery_site: Site,
    as_of: date,
) -> Asked:
    """Store a snapshot of everything that decides the plan; it still has to be worked out.

    Where a plan with the same inputs is there that has not stopped, it is the answer already and is given
    back. Raises ValidationError by field.
    """
    # The lock makes numbers run without gaps or repeats, and keeps a double press from making two plans.
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    chosen = {house.pk for house in houses}
    if not chosen:
        raise ValidationError({"houses": "Tick at least one house."})
    if as_of.year not in YEARS:
        raise ValidationError({"as_of": f"Type a date from {YEARS[0]} to {YEARS[-1]}, for example 2027-05-12."})
    if delivery_site.organisation_id != organisation.pk:
        raise ValidationError({"delivery_site": "Choose one of your own sites."})
    season = bridge.season_for(organisation=organisation, houses=houses, delivery_site=delivery_site, as_of=as_of)
    if len(season.houses) != len(chosen):
        raise ValidationError({"houses": "A ticked house has been archived or is not yours. Tick again."})
    inputs = bridge.pack_season(season)
    digest = bridge.digest_of(inputs)
    if same := plan_of(organisation=organisation, season=season, digest=digest, delivery_site=delivery_site):
        return Asked(same, same=True)
    last = Plan.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    plan = Plan(
        organisation=organisation,
        number=last + 1,
        name=name,
        as_of=as_of,
        delivery_site=delivery_site,
        created_by=user,
        inputs=inputs,
        inputs_digest=digest,
    )
    plan.full_clean()
    plan.save()
    PlanHouse.objects.bulk_create(PlanHouse(plan=plan, house_id=pk) for pk in sorted(chosen))
    return Asked(plan, same=False)


def plan_again(*, plan: Plan, user: User, as_of: date) -> Asked:
    """A new plan of the same houses that are not archived, as things stand; the old one stays as it was."""
    houses = plan.houses.filter(archived_at=None, site__archived_at=None)
    return create_plan(
        organisation=plan.organisation,
        user=user,
        name=plan.name,
        houses=houses,
        delivery_site=plan.delivery_site,
        as_of=as_of,
    )


def retry_plan(*, plan: Plan) -> None:
    """A plan that stopped waits for a worker again."""
    Plan.objects.filter(pk=plan.pk, state=Plan.State.FAILED).update(
        state=Plan.State.WAITING, problem="", steps_done=0, steps=0, step_note=""
    )


def work_out_plan(plan_id: int) -> None:
    """Work out a waiting plan and store the result with its orders, all or nothing.

    Does nothing when the plan is ready, has stopped, or is in another worker's hands. What went wrong stands
    in the plan's ``problem``.
    """
    worker = uuid4().hex
    if not _take(plan_id, worker):
        return
    try:
        plan = Plan.objects.defer("inputs", "result").get(pk=plan_id)
        season = bridge.season_of(plan)
        result = bridge.work_out(season, progress=_Notes(plan_id, worker))
        _store(plan_id, worker, result, currency=season.buyer.currency)
    except _TakenOver:
        logger.warning("Plan %s was taken over by another worker", plan_id)
    except bridge.SeasonError as error:
        _stop(plan_id, worker, _listed(error.reasons))
    except bridge.NewerVersion:
        _stop(plan_id, worker, NEWER)
    except OrderProblem as error:
        _stop(plan_id, worker, str(error))
    except Exception:
        logger.exception("Plan %s could not be worked out", plan_id)
        _stop(plan_id, worker, UNEXPECTED)


def _listed(reasons: Sequence[str]) -> str:
    """One reason a line; beyond a screenful they are counted."""
    lines = list(reasons[:MAX_REASONS])
    if len(reasons) > MAX_REASONS:
        lines.append(f"There are {len(reasons) - MAX_REASONS} more reasons like these.")
    return "\n".join(lines)


class _TakenOver(Exception):
    """Another worker has the plan now."""


def _take(plan_id: int, worker: str) -> bool:
    """One statement, so that of two workers only one finds the plan open."""
    taken = Plan.objects.filter(open_to_work(), pk=plan_id).update(
        state=Plan.State.WORKING,
        worker=worker,
        heard_from_at=timezone.now(),
        steps_done=0,
        steps=0,
        step_note="Starting",
    )
    return taken == 1


class _Notes:
    """Writes the progress where the page reads it."""

    def __init__(self, plan_id: int, worker: str) -> None:
        self.mine = Plan.objects.filter(pk=plan_id, state=Plan.State.WORKING, worker=worker)

    def __call__(self, done: int, steps: int, note: str) -> None:
        try:
            found = self.mine.update(steps_done=done, steps=steps, step_note=note[:200], heard_from_at=timezone.now())
        except OperationalError:
            # A busy database is no reason to give up the work; the next note will do.
            return
        if not found:
            raise _TakenOver


@transaction.atomic
def _store(plan_id: int, worker: str, result: bridge.SeasonPlan, *, currency: str) -> None:
    plan = (
        Plan.objects.select_for_update()
        .defer("inputs")
        .filter(pk=plan_id, state=Plan.State.WORKING, worker=worker)
        .first()
    )
    if plan is None:
        raise _TakenOver
    plan.result = bridge.pack_plan(result)
    plan.result_digest = bridge.digest_of(plan.result)
    plan.state = Plan.State.READY
    plan.worker = ""
    plan.step_note = ""
    plan.save(update_fields=["result", "result_digest", "state", "worker", "step_note"])
    record_orders(
        organisation=plan.organisation,
        plan=plan.pk,
        plan_number=plan.number,
        delivery_site=plan.delivery_site,
        orders=result.orders,
        currency=currency,
    )


def _stop(plan_id: int, worker: str, problem: str) -> None:
    Plan.objects.filter(pk=plan_id, state=Plan.State.WORKING, worker=worker).update(
        state=Plan.State.FAILED, worker="", problem=problem
    )
