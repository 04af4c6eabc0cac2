"""What a member does with its lots in the common yard, and whom it means by a name."""

from __future__ import annotations

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.coop.members.seeing import check_acts_for
from farmbuild.coop.pipe.selectors import members_named
from farmbuild.crew.models import Member
from farmbuild.orgs.models import User
from farmbuild.stock.models import Leave, Lot
from farmbuild.stock.owners.services import give_leave, take_leave_back


def member_called(member: Member, name: str) -> Member:
    """The other member of that name. Raises ValidationError; it says no name of anybody."""
    found = members_named(organisation=member.organisation, name=name)
    if not found:
        words = gettext("No member is called that. Ask %(organisation)s how the name is written.") % {
            "organisation": member.organisation.name
        }
        raise ValidationError(words)
    if len(found) > 1:
        raise ValidationError(
            gettext("Several members are called that. Ask %(organisation)s to record it.")
            % {"organisation": member.organisation.name}
        )
    if found[0].pk == member.pk:
        raise ValidationError(gettext("That is you. Type the name of the other member."))
    return found[0]


@transaction.atomic
def give_own_leave(
    *, member: Member, user: User, lot: Lot, quantity: int, other: Member | None = None, until: date | None = None
) -> Leave:
    """So many of its lot may be taken by the member ``other``, or by everybody. Raises ValidationError by field."""
    check_acts_for(member=member, user=user)
    if lot.owner_id != member.pk:
        raise ValidationError(gettext("The pieces of this lot are not yours."))
    return give_leave(
        organisation=member.organisation, user=user, lot=lot, quantity=quantity, member=other, until=until
    )


@transaction.atomic
def end_own_leave(*, member: Member, user: User, leave: Leave) -> Leave:
    """Nobody takes more by it. Raises ValidationError where houses hold pieces by it."""
    check_acts_for(member=member, user=user)
    if leave.lot.owner_id != member.pk:
        raise ValidationError(gettext("The pieces of this lot are not yours."))
    reason = f"ended by {member}"
    return take_leave_back(organisation=member.organisation, user=user, leave=leave, reason=reason)
