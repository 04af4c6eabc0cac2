"""Somebody of each kind who may come to an address."""

from __future__ import annotations

from farmbuild.orgs.acts import Role
from farmbuild.orgs.models import Organisation, User
from tests.factories import MembershipFactory, MemberSignInFactory, OrganisationFactory, UserFactory

#: Beside the five roles.
NOBODY, VISITOR, STRANGER, ALONE = "anonymous", "visitor", "other organisation", "no organisation"
KINDS = (*Role.values, VISITOR, STRANGER, ALONE, NOBODY)


def people_of(organisation: Organisation) -> dict[str, User | None]:
    found: dict[str, User | None] = {
        role: MembershipFactory(organisation=organisation, user__first_name=role.title(), role=role).user
        for role in Role.values
    }
    found[VISITOR] = MemberSignInFactory(member__organisation=organisation).user
    found[STRANGER] = MembershipFactory(organisation=OrganisationFactory(), role=Role.OWNER).user
    return found | {ALONE: UserFactory(), NOBODY: None}
