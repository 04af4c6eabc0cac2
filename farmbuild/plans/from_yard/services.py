"""Looking what the yard gives without buying, and trying those houses as a plan of their own."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.long_work import AskedToEnd, Claim, WorkStopped, end_early, listed, run_claimed, wait_anew
from farmbuild.measure import count_noun
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans import bridge
from farmbuild.plans.from_yard.bridge import (
    Wanted,
    WithoutBuying,
    WorkError,
    builders_from,
    found_from,
    held_from,
    pack_found,
    without_buying,
)
from farmbuild.plans.from_yard.selectors import asked_now, has_changed
from farmbuild.plans.models import Plan, PlanFromYard
from farmbuild.plans.selectors import changes_since
from farmbuild.plans.services import NEWER, PlanRequest, create_plan
from farmbuild.sites.selectors import houses_of

UNEXPECTED = (
    "What the yard gives could not be worked out because of a fault in the program, not in what you entered. Try again;"
    " if it stops again, tell whoever runs the server."
)
State = PlanFromYard.State


@needs(Act.PLAN)
@transaction.atomic
def ask_what_the_yard_gives(*, organisation: Organisation, user: User, plan: Plan, by: str) -> PlanFromYard:
    """The search of the plan by that way. Pressed again it is the same, but for one that stopped, was cut short, or
    rests on crews that have changed since: it waits again.

    Raises ValidationError when the plan is not worked out.
    """
    current = Plan.objects.of(organisation).defer("inputs", "result").select_for_update(no_key=True).get(pk=plan.pk)
    if current.state != Plan.State.READY:
        raise ValidationError(gettext("Only of a plan that is worked out can be said what the yard gives."))
    search = PlanFromYard.objects.filter(plan=current, by=by).first()
    over = search is not None and search.state in (State.READY, State.FAILED)
    if search and not (over and (search.state == State.FAILED or search.ends_early or has_changed(search=search))):
        return search
    now = timezone.now()
    fresh = {"starts_at": now, "asked": asked_now(plan=current, start=now)}
    if search is None:
        search = PlanFromYard(organisation=organisation, plan=current, by=by, created_by=user, **fresh)
        search.full_clean()
        search.save()
        return search
    wait_anew(PlanFromYard.objects.filter(pk=search.pk), found=None, **fresh)
    search.refresh_from_db()
    return search


@needs(Act.PLAN)
def end_yard_early(*, organisation: Organisation, user: User, search: PlanFromYard) -> bool:
    """What is found so far is kept; False where the search has ended already."""
    return end_early(search)


def look_in_yard(pk: int) -> None:
    """Choose the houses and plan each further one with them, and store what comes out; all or nothing."""
    run_claimed(PlanFromYard, pk, _look, unexpected=UNEXPECTED)


def _look(claim: Claim) -> None:
    search = PlanFromYard.objects.select_related("organisation").get(pk=claim.pk)
    with zone_in_force(search.organisation):
        try:
            found = without_buying(
                bridge.season_of(Plan.objects.get(pk=search.plan_id)),
                builders_from(search.asked),
                held=held_from(search.asked),
                wanted=Wanted(search.by),
                # How many there will be nobody knows before.
                progress=lambda done, words: claim.note(done, 0, words),
                ended=AskedToEnd(claim),
            )
        except bridge.SeasonError as error:
            raise WorkStopped(listed(error.reasons)) from error
        except WorkError as error:
            raise WorkStopped(listed(error.reasons)) from error
        except bridge.NewerVersion as error:
            raise WorkStopped(NEWER) from error
        claim.finish(found=pack_found(found))


@needs(Act.PLAN)
@transaction.atomic
def try_houses(*, organisation: Organisation, user: User, plan: Plan, by: str) -> PlanRequest:
    """A plan of its own of the houses that the yard gives; where such a plan is there, it is the answer.

    Raises ValidationError, with nothing made, where none is found or what it rests on has changed since.
    """
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    search = PlanFromYard.objects.of(organisation).filter(plan=plan, by=by, state=State.READY).first()
    found: WithoutBuying | None = found_from(search.found) if search else None
    if search is None or found is None or not found.houses:
        raise ValidationError(gettext("No house was found for which the yard has all. Look at the page again."))
    if changes_since(plan=plan):
        raise ValidationError(
            gettext("Houses, stock or prices have changed since plan %(number)d. Plan again first.")
            % {"number": plan.number}
        )
    if has_changed(search=search):
        raise ValidationError(gettext("Crews, benders or their work have changed since. Work it out again first."))
    return create_plan(
        organisation=organisation,
        user=user,
        name=f"From the yard: {count_noun(len(found.houses), 'house')}",
        houses=list(houses_of(organisation=organisation).filter(slug__in=found.houses)),
        delivery_site=plan.delivery_site,
        as_of=plan.as_of,
    )
