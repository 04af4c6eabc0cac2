"""A farm plans against the common stock that is open to it: what plans are told of it, and what accepted ones ask for.

What is asked for stands by house: ``CommonWish.wanted`` is a list of ``{"purpose", "quantity", "need_by", "pieces"}``,
with pieces that each stick is cut into as ``[house key, purpose, length in mm, of each stick]``, none where it is used
whole. Only offers in the farm's own currency, of materials that it knows by their code, are planned with.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Sum

from farmbuild.coop.common.bridge import InHouse, Lot, common_ref
from farmbuild.coop.common.selectors import offers_to_any
from farmbuild.coop.common.services import keep_for, take_wish_back
from farmbuild.coop.members.selectors import cooperatives_of
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.crew.models import Member
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.models import Plan
from farmbuild.plans.reserving.wanted import WantedReservation
from farmbuild.sites.models import House

State = CommonWish.State


def _members(farm: Organisation) -> list[Member]:
    return [row.member for row in cooperatives_of(farm=farm)]


def _names(members: Sequence[Member]) -> dict[int, str]:
    """By the key of a cooperative; with its slug where two have one name."""
    names = [member.organisation.name for member in members]
    return {
        member.organisation_id: member.organisation.name
        if names.count(member.organisation.name) == 1
        else f"{member.organisation.name} ({member.organisation.slug})"
        for member in members
    }


def _offers(farm: Organisation, members: Sequence[Member]) -> dict[str, CommonOffer]:
    """What may be planned with, by the name that seasons have for it."""
    names = _names(members)
    rows = offers_to_any(members=members).filter(organisation__currency=farm.currency) if members else ()
    return {common_ref(names[row.organisation_id], row.lot.reference): row for row in rows}


def tell_cooperatives(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    return sorted(_names(_members(organisation)).values())


def tell_common_stock(
    sender: Any, *, organisation: Organisation, materials: Collection[str], houses: Collection[int], **more: Any
) -> list[Lot]:
    members = _members(organisation)
    names = _names(members)
    kept = CommonWish.objects.filter(member__in=members, house__in=houses, state=State.OPEN).order_by()
    own = dict(kept.values_list("offer").annotate(sum=Sum("quantity")))
    found = []
    for ref, offer in _offers(organisation, members).items():
        quantity, lot = offer.left + own.get(offer.pk, 0), offer.lot
        if quantity and lot.material.code in materials:
            found.append(
                Lot(
                    ref=ref,
                    material=lot.material.code,
                    length=lot.length,
                    quantity=quantity,
                    unit_cost=offer.price,
                    place=lot.place.name,
                    offcut=lot.offcut,
                    common=names[offer.organisation_id],
                )
            )
    return found


def ask_for_what_a_plan_takes(
    sender: Any,
    *,
    plan: Plan,
    user: User,
    lots: Mapping[str, Lot],
    wanted: Sequence[WantedReservation],
    houses: Mapping[str, House],
    **more: Any,
) -> None:
    """One request a house and offer. Raises ValidationError in words where something went meanwhile."""
    members = {member.organisation_id: member for member in _members(plan.organisation)}
    offers = _offers(plan.organisation, [*members.values()])
    asked: dict[tuple[str, str], list[WantedReservation]] = {}
    for want in wanted:
        asked.setdefault((want.source, want.house), []).append(want)
    # Lots are locked in one order.
    named = sorted(asked, key=lambda key: (offers[key[0]].lot_id if key[0] in offers else 0, key))
    for ref, slug in named:
        offer, rows = offers.get(ref), asked[ref, slug]
        if offer is None or offer.price != lots[ref].unit_cost:
            raise ValidationError(f"The {ref}, is not open to you at that price any more. Plan again.")
        try:
            keep_for(
                member=members[offer.organisation_id],
                user=user,
                offer=offer,
                quantity=sum(row.quantity for row in rows),
                note=f"Plan {plan.number}, {houses[slug].name}",
                plan=plan,
                house=houses[slug],
                wanted=[_row(row, houses) for row in rows],
            )
        except ValidationError as error:
            words = f"Pieces of the {ref}, went meanwhile, so nothing is held. Plan again."
            raise ValidationError(words) from error


def _row(want: WantedReservation, houses: Mapping[str, House]) -> dict[str, Any]:
    pieces = [[houses[one.house].pk, one.purpose, str(one.length), one.each] for one in want.pieces]
    return {
        "purpose": want.purpose,
        "quantity": want.quantity,
        "need_by": want.need_by.isoformat(),
        "pieces": pieces,
    }


def take_back_what_was_asked(sender: Any, *, plan: Plan, houses: Collection[int], user: User, **more: Any) -> None:
    """What waits for an answer is free again; what was given stays the farm's."""
    rows = CommonWish.objects.filter(plan=plan, house__in=houses, state=State.OPEN)
    for wish in rows.select_related("member__organisation", "offer__lot").order_by("offer__lot", "pk"):
        take_wish_back(member=wish.member, user=user, wish=wish)


def tell_what_is_kept(
    sender: Any, *, organisation: Organisation, houses: Collection[int], **more: Any
) -> list[InHouse]:
    rows = CommonWish.objects.filter(state=State.OPEN, plan__organisation=organisation, plan__houses__in=houses)
    found = rows.select_related("offer__lot__material", "house").order_by("pk").distinct()
    keys = {key for wish in found for row in wish.wanted for key, *_ in row["pieces"]}
    slugs = dict(House.objects.filter(pk__in=keys & {*houses}).values_list("pk", "slug")) if keys else {}
    return [piece for wish in found for piece in _kept(wish, slugs, houses)]


def _kept(wish: CommonWish, slugs: Mapping[int, str], houses: Collection[int]) -> Iterator[InHouse]:
    lot = wish.offer.lot
    for row in wish.wanted:
        if not row["pieces"] and wish.house_id in houses:
            yield InHouse(wish.house.slug, lot.material.code, lot.length, row["quantity"], row["purpose"], lot.offcut)
        cut: Counter[tuple[int, str, str]] = Counter()
        for key, purpose, length, each in row["pieces"]:
            cut[key, purpose, length] += each * row["quantity"]
        for (key, purpose, length), pieces in cut.items():
            if key in slugs:
                yield InHouse(slugs[key], lot.material.code, Decimal(length), pieces, purpose, offcut=True)


def tell_fetched_lots(sender: Any, *, plan: Plan, **more: Any) -> list[str]:
    rows = CommonWish.objects.filter(plan=plan, farm_lot__isnull=False)
    return list(rows.values_list("farm_lot__reference", flat=True))
