"""Looking for small changes that save, trying one as a plan of its own, and giving it to the houses."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.common.long_work import (
    AskedToEnd,
    Claim,
    WorkStopped,
    end_early,
    listed,
    run_claimed,
    try_again,
    wait_anew,
)
from farmbuild.common.speaking import said
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanSavings
from farmbuild.plans.savings.bridge import (
    Buying,
    Change,
    Wait,
    buying_advice,
    change_of,
    changed_by,
    move_of,
    packed_change,
    packed_saving,
    saving_of,
    savings,
    title_of,
)
from farmbuild.plans.selectors import plan_of
from farmbuild.plans.services import NEWER, PlanRequest, store_plan
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of
from farmbuild.sites.services import save_house

UNEXPECTED = (
    "Savings could not be looked for because of a fault in the program, not in what you entered. Try again; if it stops"
    " again, tell whoever runs the server."
)


@needs(Act.PLAN)
@transaction.atomic
def ask_for_savings(*, organisation: Organisation, user: User, plan: Plan) -> PlanSavings:
    """The search of the plan; pressed again it is the same, and one that stopped or was cut short waits again.

    Raises ValidationError when the plan is not worked out.
    """
    current = Plan.objects.of(organisation).defer("inputs", "result").select_for_update(no_key=True).get(pk=plan.pk)
    if current.state != Plan.State.READY:
        raise ValidationError(gettext("Only of a plan that is worked out can savings be looked for."))
    search, _ = PlanSavings.objects.get_or_create(
        plan=current, defaults={"organisation": organisation, "created_by": user}
    )
    try_again(search)
    # What was cut short is looked for again in full.
    wait_anew(PlanSavings.objects.filter(pk=search.pk, state=PlanSavings.State.READY, ends_early=True))
    return search


@needs(Act.PLAN)
def end_savings_early(*, organisation: Organisation, user: User, search: PlanSavings) -> bool:
    """What is found so far is kept; False where the search has ended already."""
    return end_early(search)


def look_for_savings(pk: int) -> None:
    """Plan the season again with each change that looks promising, and store those that save; all or nothing."""
    run_claimed(PlanSavings, pk, _look, unexpected=UNEXPECTED)


def _look(claim: Claim) -> None:
    search = PlanSavings.objects.select_related("organisation").get(pk=claim.pk)
    with zone_in_force(search.organisation):
        plan = Plan.objects.get(pk=search.plan_id)
        try:
            season, result = plan.snapshot()

            def progress(done: int, steps: int, change: Change | Buying | None) -> None:
                claim.note(done, steps, f"Planning again with {title_of(change, season)}" if change else "Comparing")

            ended = AskedToEnd(claim)
            found = savings(season, result, progress=progress, ended=ended)
            otherwise = buying_advice(season, result, progress=progress, ended=ended)
        except bridge.SeasonError as error:
            raise WorkStopped(listed(error.reasons)) from error
        except bridge.NewerVersion as error:
            raise WorkStopped(NEWER) from error
        claim.finish(
            found=[packed_saving(one) for one in found],
            buying=[packed_saving(one) for one in otherwise],
        )


@needs(Act.PLAN)
@transaction.atomic
def try_saving(*, organisation: Organisation, user: User, plan: Plan, row: int) -> PlanRequest:
    """A plan of its own with the change; no house is changed. Where such a plan is there, it is the answer.

    ``row``: of what is found, and behind that of other ways to buy. Raises ValidationError when it is not there.
    """
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    search = PlanSavings.objects.of(organisation).filter(plan=plan, state=PlanSavings.State.READY).first()
    rows = search.all_rows if search else []
    if not 0 <= row < len(rows):
        raise ValidationError(gettext("This saving is not among those of the plan. Look at the page again."))
    change = saving_of(rows[row]).change
    before = bridge.season_of(plan)
    season = changed_by(change, before)
    inputs = bridge.pack_season(season)
    digest = bridge.digest_of(inputs)
    if same := plan_of(
        organisation=organisation,
        season=season,
        digest=digest,
        delivery_site=plan.delivery_site,
        from_common=plan.from_common,
    ):
        return PlanRequest(same, same=True)
    tried = Plan(
        organisation=organisation,
        name=f"{title_of(change, before)[:1].upper()}{title_of(change, before)[1:]}"[:120],
        as_of=plan.as_of,
        delivery_site=plan.delivery_site,
        from_common=plan.from_common,
        created_by=user,
        inputs=inputs,
        inputs_digest=digest,
        tried=packed_change(change),
    )
    store_plan(tried, houses=plan.houses.values_list("pk", flat=True))
    return PlanRequest(tried, same=False)


@needs(Act.HOUSES)
@transaction.atomic
def change_houses_as_tried(*, organisation: Organisation, user: User, plan: Plan) -> list[House]:
    """Give the houses of a plan that was tried what it has; those that have it stay. Gives whom it changed.

    Raises ValidationError, with no house changed, where one is gone, or has since been given something else there.
    """
    change = change_of(plan.tried) if plan.tried else None
    if not isinstance(change, Change | Wait) or plan.organisation_id != organisation.pk:
        raise ValidationError(gettext("This plan tried no change of its houses."))
    rows = any_house_of(organisation=organisation).filter(slug__in=change.houses)
    houses = {house.slug: house for house in rows.select_for_update(of=("self",), no_key=True)}
    problems, done = [], []
    for slug in change.houses:
        house = houses.get(slug)
        if house is None or house.archived_at or house.site.archived_at:
            problems.append(gettext("%(house)s is no longer there.") % {"house": house.name if house else slug})
            continue
        move = move_of(change, slug)
        now = getattr(house, move.field)
        if now not in (move.old, move.new):
            problems.append(
                gettext("%(house)s has another %(field)s now, %(value)s. Plan again.")
                % {
                    "house": house.name,
                    "field": said(move.label),
                    "value": move.said(now, organisation.unit_system),
                }
            )
        elif now == move.old:
            done.append((house, move))
    if problems:
        raise ValidationError(problems)
    for house, move in done:
        data: dict[str, Any] = {move.field: move.new}
        for name in move.along:
            if was := getattr(house, name):
                data[name] = was + move.new - move.old
        save_house(organisation=organisation, user=user, house=house, data=data)
    return [house for house, _ in done]
