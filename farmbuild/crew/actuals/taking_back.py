"""A wrong press is taken back by a row that names it; both stay."""

from __future__ import annotations

from uuid import uuid4

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.actuals.hours import place
from farmbuild.crew.actuals.services import carry, lock_task
from farmbuild.crew.gate.rules import check_taken_back
from farmbuild.crew.models import Actual, HourApproval
from farmbuild.crew.signals import approval_over
from farmbuild.orgs.acts import Act, may, needs
from farmbuild.orgs.models import Organisation, User

REASON = "Pressed by mistake."


def may_take_back(*, user: User, actual: Actual, plans: bool) -> bool:
    """Whoever pressed it or whose work it is, and who plans (``plans``)."""
    own = actual.person.user_id if actual.person else None
    return plans or user.pk in (actual.by_id, own)


@needs(Act.RECORD)
@transaction.atomic
def take_back(*, organisation: Organisation, user: User, actual: Actual, reason: str = "") -> Actual:
    """State, count, gate and rates follow from what counts then. A problem that was said with it stays on its list.

    A person's presses at a task go back from the last one on. Raises ValidationError in words where something rests on
    it, and PermissionDenied.
    """
    task = lock_task(organisation=organisation, task=actual.task_id)
    rows = Actual.objects.of(organisation).select_related("person", "reversed_by", "organisation")
    current = rows.get(pk=actual.pk)
    if not may_take_back(user=user, actual=current, plans=may(organisation=organisation, user=user, act=Act.PLAN)):
        raise PermissionDenied(gettext("Only whoever pressed it, or who plans, takes it back."))
    if hasattr(current, "reversed_by") or current.reverses_id:
        raise ValidationError(gettext("This press is taken back already."))
    # A note stands for itself; a start and what ends it go together.
    later = (
        task.actuals.net().filter(person=current.person_id, pk__gt=current.pk).exclude(started_at=None, stopped_at=None)
    )
    if (current.started_at or current.stopped_at) and later.exists():
        raise ValidationError(gettext("Something was pressed after it. Take that back first."))
    check_taken_back(organisation=organisation, task=task, actual=current)
    back = Actual(
        organisation=organisation,
        task=task,
        key=uuid4(),
        person=current.person,
        by=user,
        people=current.people,
        stopped_at=timezone.now(),
        reverses=current,
        reason=" ".join(reason.split()) or REASON,
    )
    place(back, at=back.stopped_at)
    back.day = current.day
    back.full_clean(exclude=["by"], validate_constraints=False)
    back.save()
    approval_over.send(
        HourApproval,
        organisation=organisation,
        user=user,
        which={"actual": current},
        reason=f"Taken back: {back.reason}",
    )
    carry(task)
    return back
