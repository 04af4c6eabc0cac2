"""A length of its own for a task, in place of what count and rate say."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, gettext_lazy

from farmbuild.crew.models import MAX_OWN_MINUTES, Task
from farmbuild.measure import format_minutes
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

SPAN = gettext_lazy("Type a length from 1 minute to %(hours)s hours, or leave both empty for the rate.")


@needs(Act.PLAN)
@transaction.atomic
def set_own_length(
    *, organisation: Organisation, user: User, task: Task, minutes: int | None, seen: int | None
) -> Task:
    """``minutes`` on site for all its people together; None: by count and rate again.

    The task stays where it is published until a schedule that says otherwise is. ``seen`` is its own length as the
    page showed it. Raises ValidationError by field, for a task that is begun or kept on
    its day, and where someone else set another length meanwhile.
    """
    row = Task.objects.of(organisation).select_for_update(of=("self",)).get(pk=task.pk)
    if row.state != Task.State.OPEN:
        raise ValidationError(gettext("This task has begun, so its length stays. Say by when it is done."))
    if row.fixed:
        raise ValidationError(gettext("This task is kept on its day and time. Let it move again first, on its page."))
    if minutes is not None and not 1 <= minutes <= MAX_OWN_MINUTES:
        raise ValidationError({"hours": SPAN % {"hours": MAX_OWN_MINUTES // 60}})
    if row.own_minutes not in (seen, minutes):
        now = (
            gettext("by its rate again")
            if row.own_minutes is None
            else gettext("%(own_minutes)s now") % {"own_minutes": format_minutes(row.own_minutes)}
        )
        raise ValidationError(
            gettext("Someone else changed this meanwhile: it is %(now)s. Look it over and save again.") % {"now": now}
        )
    row.own_minutes = minutes
    row.full_clean(validate_unique=False, validate_constraints=False)
    row.save(update_fields=["own_minutes"])
    return row
