"""A line of an account is taken back by the room that posted it."""

from __future__ import annotations

from farmbuild.coop.charges.services import take_back_charge
from farmbuild.coop.models import MemberEntry
from farmbuild.coop.statement.payments import take_back_payment
from farmbuild.orgs.models import Organisation, User


def take_back(*, organisation: Organisation, user: User, entry: MemberEntry, reason: str) -> MemberEntry:
    """Days, pulls, a late return or a payment; others say where. Raises ValidationError by field."""
    act = take_back_payment if entry.kind == MemberEntry.Kind.PAID else take_back_charge
    return act(organisation=organisation, user=user, entry=entry, reason=reason)
