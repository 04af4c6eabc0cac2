"""Work for a house that no step foresaw: written down, and taken back with a reason."""

from __future__ import annotations

from datetime import date

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.crew.models import HourApproval, OtherWork, Person
from farmbuild.crew.people.services import check_owner
from farmbuild.crew.signals import approval_over
from farmbuild.orgs.acts import Act, may, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House

AHEAD = _("Work is written down once it is done. Type today or an earlier day.")


@needs(Act.RECORD)
@transaction.atomic
def write_down(
    *,
    organisation: Organisation,
    user: User,
    house: House,
    what: str,
    day: date,
    minutes: int,
    people: int = 1,
    person: Person | None = None,
) -> OtherWork:
    """``minutes``: for one person. Waits for approval, and teaches no rate. Raises ValidationError by field."""
    check_owner(organisation, {"house": house, "person": person})
    if day > today_of(organisation=organisation):
        raise ValidationError({"day": AHEAD})
    row = OtherWork(
        organisation=organisation,
        house=house,
        what=" ".join(what.split()),
        day=day,
        minutes=minutes,
        people=people,
        person=person,
        crew=person.crew if person else None,
        by=user,
    )
    row.full_clean(exclude=["organisation", "by"], validate_constraints=False)
    row.save()
    return row


def may_remove(*, organisation: Organisation, user: User, work: OtherWork) -> bool:
    own = work.person.user_id if work.person else None
    return user.pk in (work.by_id, own) or may(organisation=organisation, user=user, act=Act.PLAN)


@needs(Act.RECORD)
@transaction.atomic
def remove(*, organisation: Organisation, user: User, work: OtherWork, reason: str) -> OtherWork:
    """The hours count no more; that they were written down, and why they went, stays."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: written down twice.")})
    rows = OtherWork.objects.of(organisation).select_for_update(of=("self",)).select_related("person")
    current = rows.get(pk=work.pk)
    if not may_remove(organisation=organisation, user=user, work=current):
        raise PermissionDenied(gettext("Only whoever wrote it down, or who plans, takes it back."))
    if current.removed_at:
        raise ValidationError(gettext("This is taken back already."))
    current.removed_at, current.removed_by, current.removed_reason = timezone.now(), user, reason
    current.full_clean(exclude=["organisation", "by"], validate_constraints=False)
    current.save(update_fields=["removed_at", "removed_by", "removed_reason"])
    approval_over.send(
        HourApproval,
        organisation=organisation,
        user=user,
        which={"other": current},
        reason=f"Taken back: {reason}",
    )
    return current
