"""What crews ask of members that are farms."""

from __future__ import annotations

from typing import Any

from farmbuild.coop.members.selectors import cooperatives_of, farm_of
from farmbuild.crew.models import Member
from farmbuild.orgs.models import Organisation


def tell_members(sender: Any, *, farm: Organisation, **more: Any) -> list[Member]:
    return [row.member for row in cooperatives_of(farm=farm)]


def tell_farm(sender: Any, *, member: Member, **more: Any) -> list[Organisation]:
    farm = None if member.archived_at else farm_of(member=member)
    return [farm] if farm else []
