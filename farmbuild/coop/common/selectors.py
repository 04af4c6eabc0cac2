"""Reads of common stock: what is open, to whom, and who wishes for what."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation


def offers_of(*, organisation: Organisation) -> QuerySet[CommonOffer]:
    """What is open, with its lot and for whom; what ended is left out."""
    rows = CommonOffer.objects.of(organisation).filter(ended_at=None)
    return (
        rows.select_related("lot__material", "lot__place")
        .prefetch_related("members")
        .order_by("lot__material__name", "lot__length", "pk")
    )


def offers_to(*, member: Member) -> QuerySet[CommonOffer]:
    """What is open to the member today."""
    today = today_of(organisation=member.organisation)
    rows = offers_of(organisation=member.organisation).filter(Q(until=None) | Q(until__gte=today))
    return rows.filter(Q(members=None) | Q(members=member)).distinct()


def wishes_of(*, organisation: Organisation) -> QuerySet[CommonWish]:
    """The open ones first, the first asked first."""
    rows = CommonWish.objects.of(organisation).select_related("member", "offer__lot__material", "offer__lot__place")
    return rows.order_by("-state", "pk")


def wishes_of_member(*, member: Member) -> QuerySet[CommonWish]:
    return wishes_of(organisation=member.organisation).filter(member=member).order_by("-pk")
