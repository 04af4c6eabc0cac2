"""Hours are corrected with a reason and approved; what is approved stays so until it is corrected again."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from uuid import uuid4

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.crew.actuals.selectors import running_of
from farmbuild.crew.actuals.services import STOP, keep, lock_task
from farmbuild.crew.actuals.taking_back import may_take_back
from farmbuild.crew.hours.selectors import other_work_of, runs_of
from farmbuild.crew.models import Actual, HourApproval, HourCorrection, OtherWork
from farmbuild.crew.signals import approval_over, hours_approved
from farmbuild.orgs.acts import Act, may, needs, who_may
from farmbuild.orgs.models import Organisation, User

CHANGED = _("These hours changed since the page was loaded. Look at them again.")
LATE = _("These go past the end of the crew's day. Correct them first, with a reason.")
OWN = _("Your own hours are approved by another planner or owner.")
NOT_YOURS = _("Only whoever worked or pressed it, or who plans, corrects it.")


@needs(Act.RECORD)
@transaction.atomic
def correct(
    *, organisation: Organisation, user: User, actual: Actual, minutes: int, people: int, reason: str, seen: int | None
) -> HourCorrection:
    """What a run really took; an approval of it counts no more. A run that was forgotten ends with it.

    ``seen``: key of the last correction when the page was loaded. Raises ValidationError by field.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: Stop was forgotten.")})
    task = lock_task(organisation=organisation, task=actual.task_id)
    current = Actual.objects.of(organisation).select_related("person").get(pk=actual.pk)
    if not may_take_back(user=user, actual=current, plans=may(organisation=organisation, user=user, act=Act.PLAN)):
        raise PermissionDenied(NOT_YOURS)
    if current.stopped_at is None:
        if running_of(task=task, person=current.person) != current:
            raise ValidationError(CHANGED)
        end = Actual(
            organisation=organisation, task=task, key=uuid4(), person=current.person, by=user, people=current.people
        )
        current = keep(end, STOP, current.started_at + timedelta(minutes=minutes))
    run = _locked(organisation, [current.pk]).get(current.pk)
    if run is None or run.latest != seen:
        raise ValidationError(CHANGED)
    row = HourCorrection(
        organisation=organisation, actual=current, minutes=minutes, people=people, reason=reason, by=user
    )
    row.full_clean(exclude=["organisation", "by"], validate_constraints=False)
    row.save()
    approval_over.send(
        HourApproval,
        organisation=organisation,
        user=user,
        which={"actual": current},
        reason=f"Corrected: {reason}",
    )
    return row


def _locked(organisation: Organisation, keys: Iterable[int]) -> dict[int, Actual]:
    """Runs that count, as they are now, and nobody else's until the transaction ends."""
    keys = sorted(keys)
    list(Actual.objects.of(organisation).filter(pk__in=keys).order_by("pk").select_for_update())
    return {run.pk: run for run in runs_of(organisation=organisation).filter(pk__in=keys).select_related("person")}


@needs(Act.PLAN)
@transaction.atomic
def approve(
    *,
    organisation: Organisation,
    user: User,
    runs: Iterable[tuple[int, int | None]],
    other: Iterable[int] = (),
) -> int:
    """Hours that the page showed: ``runs`` as (run, its last correction), ``other`` work by key; says how many.

    What is approved already stays as it is. Who plans alone approves their own hours too; else another planner does.
    """
    seen, keys = dict(runs), sorted(set(other))
    alone = who_may(organisation=organisation, act=Act.PLAN) == [user]
    now = _locked(organisation, seen)
    list(OtherWork.objects.of(organisation).filter(pk__in=keys).order_by("pk").select_for_update())
    work = {row.pk: row for row in other_work_of(organisation=organisation).filter(pk__in=keys)}
    if set(now) != set(seen) or set(work) != set(keys) or any(now[pk].latest != last for pk, last in seen.items()):
        raise ValidationError(CHANGED)
    fresh = [row for row in (*now.values(), *work.values()) if not row.approved]
    if any(isinstance(row, Actual) and row.late and row.latest is None for row in fresh):
        raise ValidationError(LATE)
    others = [row for row in fresh if alone or not (row.person and row.person.user_id == user.pk)]
    if fresh and not others:
        raise ValidationError(OWN)
    approvals = []
    for row in others:
        what = {"actual": row, "correction_id": row.latest} if isinstance(row, Actual) else {"other": row}
        approvals.append(HourApproval.objects.create(organisation=organisation, by=user, **what))
    if approvals:
        hours_approved.send(HourApproval, organisation=organisation, user=user, approvals=approvals)
    return len(others)
