"""Reads of members and their farms."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.access.cards import why_not
from farmbuild.coop.models import FarmCard, MemberFarm
from farmbuild.crew.bookings.signins import sign_ins_of
from farmbuild.crew.models import Member, MemberSignIn
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


def members_in(*, organisation: Organisation) -> list[Member]:
    """Of a cooperative, by name, in three queries: each with ``farm`` or None, and open sign-ins ``signing_in``."""
    farms = {row.member_id: row.farm for row in farms_of(organisation=organisation)}
    signing_in: dict[int, list[MemberSignIn]] = {}
    for row in sign_ins_of(organisation=organisation).filter(shut_at=None):
        signing_in.setdefault(row.member_id, []).append(row)
    members = list(
        Member.objects.of(organisation).filter(archived_at=None).select_related("organisation").order_by("name", "pk")
    )
    for member in members:
        member.farm, member.signing_in = farms.get(member.pk), signing_in.get(member.pk, [])
    return members


def links_of(*, member: Member) -> QuerySet[MemberFarm]:
    """All that there were, the latest first."""
    return MemberFarm.objects.filter(member=member).select_related("farm", "made_by", "ended_by").order_by("-pk")


def open_card_of(*, member: Member) -> FarmCard | None:
    row = FarmCard.objects.filter(member=member, taken_at=None, withdrawn_at=None).select_related("made_by").first()
    return row if row and not why_not(row) else None
