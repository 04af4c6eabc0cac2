"""Which acts the ready sets have and who may do each, for everybody who belongs to the organisation to read."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext

from farmbuild.common.speaking import said_list
from farmbuild.orgs.acts import READY_SETS, Act, Role, acts_given
from farmbuild.orgs.models import Membership, Organisation


@dataclass(frozen=True)
class WhoMay:
    """One act: its words after "may", the ready sets that have it, and the people who may."""

    act: str
    sets: str
    people: str


def who_may_what(*, organisation: Organisation) -> list[WhoMay]:
    """Every act in its order, of people who can sign in. One query."""
    rows = Membership.objects.filter(organisation=organisation, user__is_active=True, user__visitor=False)
    members = [
        (row.user.display_name, acts_given(role=row.role, without=row.without, also=row.also))
        for row in rows.select_related("user").order_by("pk")
    ]
    return [
        WhoMay(
            gettext(act.words).capitalize(),
            said_list(str(role.label) for role in Role if act in READY_SETS[role]),
            said_list(name for name, acts in members if act in acts) or gettext("nobody at present"),
        )
        for act in Act
    ]
