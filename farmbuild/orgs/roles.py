"""What the role of a member lets them do."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.orgs.models import Membership, Organisation, User

PLANS = (Membership.Role.OWNER, Membership.Role.PLANNER)


def planners_of(*, organisation: Organisation) -> QuerySet[User]:
    """Who may approve and take back what others recorded, of those who can sign in."""
    return User.objects.filter(membership__organisation=organisation, membership__role__in=PLANS, is_active=True)


def may_plan(*, organisation: Organisation, user: User) -> bool:
    return planners_of(organisation=organisation).filter(pk=user.pk).exists()
