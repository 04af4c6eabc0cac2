"""A farm plans against the common stock that is open to it: what plans are told of it, and what accepted ones ask for.

What is asked for stands by house: ``CommonWish.wanted`` is a list of ``{"purpose", "quantity", "need_by", "pieces"}``,
with pieces that each stick is cut into as ``[house key, purpose, length in mm, of each stick]``, none where it is used
whole. Only offers in the farm's own currency, of materials that it knows by their code, are planned with.

What a house asked for is its own until it is answered, also where the offer has ended or its day is over: the next plan
of that house is told of it by a name of its own, and keeps it at the price that it had.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Exists, OuterRef, QuerySet, Sum
from django.urls import reverse

from farmbuild.catalogue.models import Material
from farmbuild.common.compiled import compiled_once
from farmbuild.coop.common.bridge import InHouse, Lot, common_ref
from farmbuild.coop.common.selectors import offers_to_any
from farmbuild.coop.common.services import keep_for, take_wish_back
from farmbuild.coop.common.words import STATES, lost_words
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.members.selectors import cooperatives_of
from farmbuild.coop.models import CommonOffer, CommonWish
from farmbuild.crew.models import Member
from farmbuild.measure import line_total
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving.wanted import WantedReservation
from farmbuild.plans.signals import AskedFor, Waiting
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot as StockLot

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


def _kept_by(members: Sequence[Member], houses: Collection[int]) -> dict[int, int]:
    """Pieces that wait for an answer for these houses, by the key of the offer."""
    kept = CommonWish.objects.filter(member__in=members, house__in=houses, state=State.OPEN).order_by()
    return dict(kept.values_list("offer").annotate(sum=Sum("quantity"))) if members else {}


def _ended(
    members: Sequence[Member], kept: Collection[int], still: Mapping[str, CommonOffer]
) -> dict[str, CommonOffer]:
    """Of offers with pieces ``kept`` those that are open no more, by the name that seasons have for these pieces."""
    names = _names(members)
    over = set(kept) - {offer.pk for offer in still.values()}
    rows = CommonOffer.objects.filter(pk__in=over).select_related("lot__material", "lot__place") if over else ()
    return {f"{common_ref(names[row.organisation_id], row.lot.reference)}, kept for you": row for row in rows}


def lock_common_stock(
    sender: Any, *, organisation: Organisation, refs: Collection[str], houses: Collection[int], **more: Any
) -> None:
    """Lots of cooperatives before anything of the farm, by key, as whoever hands pieces over holds them."""
    members = _members(organisation)
    offers = _offers(organisation, members) if refs else {}
    lots = {offers[ref].lot_id for ref in refs if ref in offers}
    kept = CommonOffer.objects.filter(pk__in=_kept_by(members, houses))
    lots |= set(kept.values_list("lot", flat=True)) if members else set()
    if lots:
        list(StockLot.objects.filter(pk__in=lots).order_by("pk").select_for_update(of=("self",)).values_list("pk"))


def tell_cooperatives(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    return sorted(_names(_members(organisation)).values())


def tell_common_stock(
    sender: Any, *, organisation: Organisation, materials: Collection[str], houses: Collection[int], **more: Any
) -> list[Lot]:
    members = _members(organisation)
    names = _names(members)
    kept = _kept_by(members, houses)
    offers = _offers(organisation, members)
    found = []
    for ref, offer in (offers | _ended(members, kept, offers)).items():
        quantity, lot = kept.get(offer.pk, 0) + (offer.left if ref in offers else 0), offer.lot
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
    let_go: Mapping[int, int],
    **more: Any,
) -> None:
    """One request a house and offer. Raises ValidationError in words where something went meanwhile."""
    members = {member.organisation_id: member for member in _members(plan.organisation)}
    offers = _offers(plan.organisation, [*members.values()])
    offers |= _ended([*members.values()], let_go, offers)
    asked: dict[tuple[str, str], list[WantedReservation]] = {}
    for want in wanted:
        asked.setdefault((want.source, want.house), []).append(want)
    left = Counter(let_go)
    # Lots are locked in one order.
    named = sorted(asked, key=lambda key: (offers[key[0]].lot_id if key[0] in offers else 0, key))
    for ref, slug in named:
        offer, rows = offers.get(ref), asked[ref, slug]
        if offer is None or offer.price != lots[ref].unit_cost:
            raise ValidationError(f"The {ref}, is not open to you at that price any more. Plan again.")
        quantity = sum(row.quantity for row in rows)
        had = quantity <= left[offer.pk]
        left[offer.pk] -= quantity
        try:
            keep_for(
                member=members[offer.organisation_id],
                user=user,
                offer=offer,
                quantity=quantity,
                note=f"Plan {plan.number}, {houses[slug].name}",
                had=had,
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


def take_back_what_was_asked(
    sender: Any, *, plan: Plan, houses: Collection[int], user: User, **more: Any
) -> dict[int, int]:
    """What waits for an answer is free again, and told by offer; what was given stays the farm's."""
    let_go: Counter[int] = Counter()
    rows = CommonWish.objects.filter(plan=plan, house__in=houses, state=State.OPEN)
    for wish in rows.select_related("member__organisation", "offer__lot").order_by("offer__lot", "pk"):
        take_wish_back(member=wish.member, user=user, wish=wish)
        let_go[wish.offer_id] += wish.quantity
    return let_go


def tell_what_waits(sender: Any, *, organisation: Organisation, houses: Collection[int], **more: Any) -> list[Waiting]:
    members = _members(organisation)
    names = _names(members)
    rows = CommonWish.objects.filter(member__in=members, house__in=houses, state=State.OPEN).order_by("pk")
    return [
        Waiting(
            names[wish.organisation_id],
            wish.offer.lot.material.code,
            wish.offer.lot.length,
            wish.quantity,
            line_total(wish.quantity, wish.price, organisation.currency),
        )
        for wish in rows.select_related("offer__lot__material")
    ]


def tell_what_is_kept(
    sender: Any, *, organisation: Organisation, houses: Collection[int], **more: Any
) -> list[InHouse]:
    found = _kept_for(organisation.pk, houses)
    keys = {key for wish in found for row in wish.wanted for key, *_ in row["pieces"]}
    slugs = dict(House.objects.filter(pk__in=keys & {*houses}).values_list("pk", "slug")) if keys else {}
    return [piece for wish in found for piece in _kept(wish, slugs, houses)]


@compiled_once
def _kept_for(organisation: int, houses: Sequence[int]) -> QuerySet[CommonWish]:
    rows = CommonWish.objects.filter(state=State.OPEN, plan__organisation=organisation, plan__houses__in=houses)
    return rows.select_related("offer__lot__material", "house").order_by("pk").distinct()


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


def tell_what_became(sender: Any, *, plan: Plan, **more: Any) -> list[AskedFor]:
    """Of what the plan asked for since it was accepted, by cooperative, thing, place and answer.

    What was withdrawn with a house is left out: the plan builds it no more.
    """
    building = PlanHouse.objects.filter(plan=plan, house=OuterRef("house"), accepted=True)
    rows = CommonWish.objects.filter(Exists(building), plan=plan, made_at__gte=plan.accepted_at)
    rows = rows.order_by("organisation__name", "offer__lot__material__name", "offer__lot__length", "pk")
    wishes = list(rows.select_related("organisation", "offer__lot__material", "offer__lot__place"))
    codes = {wish.offer.lot.material.code for wish in wishes}
    own = {row.code: row for row in Material.objects.of(plan.organisation).filter(code__in=codes)} if codes else {}
    mine = {member.organisation.slug for member in _members(plan.organisation)} if wishes else set()
    found: dict[tuple[str, str, str, str, str, str], int] = {}
    for wish in wishes:
        lot = wish.offer.lot
        # As the farm calls it.
        what = item_words(own.get(lot.material.code, lot.material), lot.length, plan.organisation)
        key = (wish.organisation.name, wish.organisation.slug, what, lot.place.name, wish.state, wish.answer)
        found[key] = found.get(key, 0) + wish.quantity
    return [
        AskedFor(
            name,
            what,
            place,
            pieces,
            STATES[State(state)],
            answer,
            reverse("coop:seen-common", args=[slug]) if slug in mine else "",
            lost_words(name, what, pieces, State(state), answer),
        )
        for (name, slug, what, place, state, answer), pieces in found.items()
    ]
