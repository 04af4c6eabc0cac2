"""Reads of members and their farms."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.coop.models import MemberFarm
from farmbuild.crew.models import Member
from farmbuild.orgs.models import Organisation


def farms_of(*, organisation: Organisation) -> QuerySet[MemberFarm]:
    """Of a cooperative, those that stand."""
    return MemberFarm.objects.of(organisation).standing().select_related("member", "farm")


def cooperatives_of(*, farm: Organisation) -> QuerySet[MemberFarm]:
    """Where the farm is a member now, with member and cooperative."""
    rows = MemberFarm.objects.filter(farm=farm, member__archived_at=None).standing()
    return rows.select_related("member__organisation", "organisation").order_by("organisation__name", "pk")


def farm_of(*, member: Member) -> Organisation | None:
    row = MemberFarm.objects.filter(member=member).standing().select_related("farm").first()
    return row.farm if row else None
