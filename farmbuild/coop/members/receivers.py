"""What crews ask of members that are farms."""

from __future__ import annotations

from typing import Any

from farmbuild.coop.members.selectors import cooperatives_of, farm_of
from farmbuild.coop.models import MemberFarm
from farmbuild.crew.models import Member
from farmbuild.orgs.models import Organisation


def tell_members(sender: Any, *, farm: Organisation, **more: Any) -> list[Member]:
    return [row.member for row in cooperatives_of(farm=farm)]


def tell_farm(sender: Any, *, member: Member, **more: Any) -> list[Organisation]:
    farm = None if member.archived_at else farm_of(member=member)
    return [farm] if farm else []


def tell_neighbours(sender: Any, *, organisation: Organisation, **more: Any) -> list[int]:
    """Cooperatives that it is or was a member of: what they keep for it stays after that."""
    return list(MemberFarm.objects.filter(farm=organisation).values_list("organisation", flat=True))
