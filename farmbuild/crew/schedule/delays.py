"""Work that comes later, or takes longer, than it is planned."""

from __future__ import annotations

from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew import bridge
from farmbuild.crew.models import Task
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User


def _locked(organisation: Organisation, task: Task) -> Task:
    return Task.objects.of(organisation).select_for_update(of=("self",)).get(pk=task.pk)


@needs(Act.PLAN)
@transaction.atomic
def set_not_before(*, organisation: Organisation, user: User, task: Task, day: date | None) -> Task:
    """The task starts on that day or later, whatever is planned from now on; None: any day again.

    It stays where it is published until a schedule that says otherwise is. Raises ValidationError by field.
    """
    row = _locked(organisation, task)
    if row.state != Task.State.OPEN:
        raise ValidationError(gettext("This task has begun, so it cannot start later. Say by when it is done."))
    if row.fixed:
        raise ValidationError(gettext("This task is kept on its day and time. Let it move again first, on its page."))
    if day and day < today_of(organisation=organisation):
        raise ValidationError({"day": gettext("This day is over. Type today or a later day.")})
    row.not_before = day
    row.full_clean(validate_unique=False, validate_constraints=False)
    row.save(update_fields=["not_before"])
    return row


@needs(Act.PLAN)
@transaction.atomic
def set_end(*, organisation: Organisation, user: User, task: Task, ends_at: datetime) -> Task:
    """Work that has begun is done by ``ends_at`` (aware; the next quarter of an hour counts) as far as can be seen.

    What waits for it, and what its crew does next, is then planned after that. Raises ValidationError by field.
    """
    row = _locked(organisation, task)
    if row.state != Task.State.STARTED or row.starts_at is None:
        raise ValidationError(gettext("Only work that has begun and has a place in the schedule can take longer."))
    ends = bridge.next_slot(ends_at)
    if ends <= max(timezone.now(), row.starts_at):
        raise ValidationError({"day": gettext("This time is over. Type a day and time to come.")})
    row.ends_at = ends
    row.full_clean(validate_unique=False)
    row.save(update_fields=["ends_at"])
    return row
