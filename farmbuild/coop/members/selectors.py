"""Reads of members and their farms."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from farmbuild.access.cards import why_not
from farmbuild.coop.members.signals import asking_what_ends
from farmbuild.coop.models import FarmCard, MemberFarm
from farmbuild.crew.bookings.signins import sign_ins_of
from farmbuild.crew.models import Member, MemberSignIn
from farmbuild.orgs.models import Organisation

#: So many days the other side is told that a farm is a member no more.
DAYS_TOLD = 7


def farms_of(*, organisation: Organisation) -> QuerySet[MemberFarm]:
    """Of a cooperative, those that stand."""
    return MemberFarm.objects.of(organisation).standing().select_related("member", "farm")


def cooperatives_of(*, farm: Organisation) -> QuerySet[MemberFarm]:
    """Where the farm is a member now, with member and cooperative."""
    rows = MemberFarm.objects.filter(farm=farm, member__archived_at=None).standing()
    return rows.select_related("member__organisation", "organisation").order_by("organisation__name", "pk")


def left_by(*, farm: Organisation) -> QuerySet[MemberFarm]:
    """Where the farm is a member no more, whoever ended it; the latest first."""
    return MemberFarm.objects.filter(farm=farm).exclude(ended_at=None).select_related("organisation").order_by("-pk")


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


def what_ends(*, member: Member, farm: Organisation) -> list[str]:
    """With the farm of the member, in sentences."""
    return [words for _, told in asking_what_ends.send(MemberFarm, member=member, farm=farm) for words in told]


def left_lately(*, organisation: Organisation) -> QuerySet[MemberFarm]:
    """What the other side ended these last days, of a cooperative and of a farm; the latest first."""
    since = timezone.now() - timedelta(days=DAYS_TOLD)
    rows = MemberFarm.objects.filter(Q(organisation=organisation) | Q(farm=organisation), ended_at__gte=since)
    rows = rows.exclude(ended_by__memberships__organisation=organisation)
    return rows.select_related("member", "farm", "organisation").order_by("-ended_at", "-pk")


def links_of(*, member: Member) -> QuerySet[MemberFarm]:
    """All that there were, the latest first."""
    return MemberFarm.objects.filter(member=member).select_related("farm", "made_by", "ended_by").order_by("-pk")


def open_card_of(*, member: Member) -> FarmCard | None:
    row = FarmCard.objects.filter(member=member, taken_at=None, withdrawn_at=None).select_related("made_by").first()
    return row if row and not why_not(row) else None
