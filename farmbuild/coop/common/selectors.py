"""Reads of common stock: what is open, to whom, and who wishes for what."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta
from decimal import Decimal

from django.db.models import F, Q, QuerySet, Sum, Value
from django.db.models.functions import Coalesce, Greatest, Least
from django.utils import timezone

from farmbuild.catalogue.models import Material
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import Lot
from farmbuild.stock.selectors import own_lots_on_hand

State = CommonWish.State
#: So many days an answer stands on the first page of whoever asked.
DAYS_TOLD = 7
#: Of an offer: what nobody asked for yet, and no more than is free of its lot.
_FREE = F("lot__on_hand") - F("lot__reserved") - F("lot__promised")
LEFT = Greatest(Least(F("quantity") - F("wished") - F("given"), _FREE), Value(0))


def every_offer_of(*, organisation: Organisation) -> QuerySet[CommonOffer]:
    """With its lot and for whom; ``left``: pieces that can still be asked for."""
    rows = CommonOffer.objects.of(organisation).annotate(left=LEFT)
    return (
        rows.select_related("lot__material", "lot__place", "organisation")
        .prefetch_related("members")
        .order_by("lot__material__name", "lot__length", "pk")
    )


def offers_of(*, organisation: Organisation) -> QuerySet[CommonOffer]:
    """What is open; what ended is left out."""
    return every_offer_of(organisation=organisation).filter(ended_at=None)


def open_offer_of(*, lot: Lot) -> CommonOffer | None:
    return CommonOffer.objects.filter(lot=lot, ended_at=None).first()


def ended_offers_of(*, organisation: Organisation) -> QuerySet[CommonOffer]:
    return every_offer_of(organisation=organisation).exclude(ended_at=None)


def offers_to(*, member: Member) -> QuerySet[CommonOffer]:
    """What is open to the member today."""
    return offers_to_any(members=[member])


def offers_to_any(*, members: Collection[Member]) -> QuerySet[CommonOffer]:
    """What is open today to one of these members, each of another cooperative; by one query."""
    mine = Q(pk__in=())
    for member in members:
        today = today_of(organisation=member.organisation)
        holds = Q(until=None) | Q(until__gte=today)
        chosen = Q(members=None) | Q(members=member)
        mine |= Q(organisation=member.organisation_id) & holds & chosen
    rows = CommonOffer.objects.filter(mine, ended_at=None).values("pk")
    found = CommonOffer.objects.filter(pk__in=rows).annotate(left=LEFT)
    return found.select_related("lot__material", "lot__place", "organisation").order_by(
        "lot__material__name", "lot__length", "pk"
    )


def free_pieces_of(*, organisation: Organisation) -> tuple[int, int]:
    """Offers that are open, and pieces that can still be asked for of all of them."""
    rows = CommonOffer.objects.of(organisation).filter(ended_at=None).order_by()
    sums = rows.aggregate(left=Coalesce(Sum(LEFT), 0))
    return rows.count(), sums["left"]


def wishes_of(*, organisation: Organisation) -> QuerySet[CommonWish]:
    """The open ones first, the first asked first."""
    rows = CommonWish.objects.of(organisation).select_related(
        "member", "organisation", "offer__lot__material", "offer__lot__place", "made_by", "answered_by"
    )
    return rows.order_by("-state", "pk")


def open_wishes_of(*, organisation: Organisation) -> QuerySet[CommonWish]:
    return wishes_of(organisation=organisation).filter(state=State.OPEN).order_by("pk")


def answered_wishes_of(*, organisation: Organisation) -> QuerySet[CommonWish]:
    """The latest first."""
    return wishes_of(organisation=organisation).exclude(state=State.OPEN).order_by("-answered_at", "-pk")


def wishes_of_member(*, member: Member) -> QuerySet[CommonWish]:
    return wishes_of(organisation=member.organisation).filter(member=member).order_by("-pk")


def wishes_for(*, offer: CommonOffer) -> QuerySet[CommonWish]:
    return wishes_of(organisation=offer.organisation).filter(offer=offer)


def answered_lately(*, members: Collection[Member]) -> QuerySet[CommonWish]:
    """What the members of some cooperatives were given or refused these last days; the latest first."""
    rows = CommonWish.objects.filter(
        member__in=members,
        state__in=[State.GIVEN, State.DECLINED],
        answered_at__gte=timezone.now() - timedelta(days=DAYS_TOLD),
    )
    return rows.select_related("organisation", "member", "offer__lot__material").order_by("-answered_at", "-pk")


def lots_to_open(*, organisation: Organisation, material: Material, length: Decimal | None) -> list[Lot]:
    """Whole pieces of the cooperative's own that nobody holds and that are not open yet, the oldest lot first."""
    rows = own_lots_on_hand(organisation=organisation).filter(material=material, length=length, offcut=False)
    shut = rows.exclude(common_offers__in=CommonOffer.objects.of(organisation).filter(ended_at=None))
    return [lot for lot in shut.order_by("received_on", "pk") if lot.free > 0]


def counts_of_member(*, member: Member) -> tuple[int, int]:
    """Lots that are open to it today, and its requests that wait."""
    waiting = CommonWish.objects.filter(member=member, state=State.OPEN).count()
    return offers_to(member=member).order_by().count(), waiting
