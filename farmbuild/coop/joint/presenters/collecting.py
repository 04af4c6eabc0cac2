"""Which members' plans can be put into a joint order, and what each would put in."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext

from farmbuild.common.speaking import said_list
from farmbuild.coop.joint.plans import plan_needs_of
from farmbuild.coop.models import JointOrder
from farmbuild.crew.bookings.selectors import members_of
from farmbuild.crew.models import Member


@dataclass(frozen=True)
class OfferedPlan:
    """``words``: of whom, and what its plan would put in; ``seen``: just that, for the service."""

    member: Member
    plan: int
    words: str
    seen: str


def plans_offered(*, joint: JointOrder) -> list[OfferedPlan]:
    """Of members whose farm has an accepted plan that buys something which the cooperative knows."""
    found = []
    for member in members_of(organisation=joint.organisation):
        needs = plan_needs_of(member=member, joint=joint)
        if needs.plan and needs.rows:
            said = said_list([row.words for row in needs.rows])
            found.append(
                OfferedPlan(
                    member,
                    needs.plan,
                    gettext("%(member)s, plan %(plan)s: %(said)s")
                    % {"member": member, "plan": needs.plan, "said": said},
                    needs.seen,
                )
            )
    return found
