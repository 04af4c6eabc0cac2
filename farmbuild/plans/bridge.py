"""The one door to the planner: rows to a season, a season to its plan, both to and from their snapshots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import Q, QuerySet

from farmbuild.buying.bridge import incoming_lot
from farmbuild.buying.incoming import incoming_lines, line_name
from farmbuild.catalogue.bridge import buyer_input, material_input, offer_input, supplier_input
from farmbuild.catalogue.models import Material as StoredMaterial
from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.catalogue.selectors import materials_of
from farmbuild.common.compiled import compiled_once
from farmbuild.hoops.batches.selectors import sticks_for
from farmbuild.hoops.batches.services import HOOPS
from farmbuild.measure import NumberStyle, count_noun, current_style, format_money, join_words, use_style
from farmbuild.measure.money import places
from farmbuild.orgs.models import Organisation
from farmbuild.planning.buying import reasons as buying_reasons
from farmbuild.planning.buying.surplus import why_more
from farmbuild.planning.buying.unknown import unknown_leads
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.spec import House as HouseInput
from farmbuild.planning.inputs import InHouse, Lot, Season
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.netting.in_house import Covered, rows_to_trim, subtract_in_house
from farmbuild.planning.netting.joints import OF_JOINTS, MoreJoints
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.results import (
    AlreadyThere,
    Balance,
    CutLayout,
    CutPlanSummary,
    Leftover,
    SeasonPlan,
    TakeoffRow,
    TooMuch,
    Unmet,
)
from farmbuild.planning.season import size, snapshot
from farmbuild.planning.season.marks import Mark, marks_of
from farmbuild.planning.season.naming import ON_ORDER, house_names, is_in_common, is_on_order, lot_name
from farmbuild.planning.season.plan import SeasonError, plan_season
from farmbuild.planning.season.snapshot import NewerVersion
from farmbuild.plans.models import Plan
from farmbuild.plans.signals import asking_common_stock
from farmbuild.plans.snapshots.bridge import season_of, season_plan_of
from farmbuild.sites.bridge import house_input, material_keys, site_input, take_off_of
from farmbuild.sites.models import House, Site
from farmbuild.sites.selectors import houses_with_materials
from farmbuild.stock.bridge import lot_input
from farmbuild.stock.issued import issued_to
from farmbuild.stock.leave import leave_for_whoever
from farmbuild.stock.models import Lot as StoredLot
from farmbuild.stock.reserving.selectors import reserved_by_others

__all__ = [
    "OF_JOINTS",
    "ON_ORDER",
    "AlreadyThere",
    "Balance",
    "Covered",
    "CutLayout",
    "CutPlanSummary",
    "HouseInput",
    "InHouse",
    "Kind",
    "Leftover",
    "Lot",
    "Mark",
    "Material",
    "MoreJoints",
    "NewerVersion",
    "Season",
    "SeasonError",
    "SeasonPlan",
    "TakeoffRow",
    "TooMuch",
    "Unmet",
    "changes",
    "digest_of",
    "house_input",
    "house_names",
    "houses_as_asked",
    "in_house",
    "is_in_common",
    "is_on_order",
    "knew_in_house",
    "lot_name",
    "marks_of",
    "own_lines",
    "pack_plan",
    "pack_season",
    "rows_to_trim",
    "same_inputs",
    "season_for",
    "season_of",
    "season_plan_of",
    "silent_of",
    "sizes_in_house",
    "slips_of",
    "subtract_in_house",
    "take_off_of",
    "why_more",
    "why_offers",
    "work_out",
]

#: Told how many steps are done, of how many, and what is being done now.
Progress = Callable[[int, int, str], None]


def season_for(
    *,
    organisation: Organisation,
    houses: Collection[House],
    delivery_site: Site,
    as_of: date,
    from_common: bool = False,
) -> Season:
    """Everything that decides the plan of these houses, in one fixed order. ``from_common``: with what cooperatives
    have opened to the organisation.

    Archived houses are left out. Lots are what no other house holds, on hand or on its way. Materials are those
    that the houses name; lots, offers and suppliers those of these materials, so that nothing else in the yard or
    the catalogue makes the plan out of date.
    """
    rows = sorted(
        houses_with_materials(organisation=organisation).filter(pk__in=[house.pk for house in houses]),
        key=lambda house: house.slug,
    )
    wanted = {key for house in rows for key in material_keys(house)}
    there = in_house(rows)
    sites = {house.site for house in rows} | {delivery_site}
    materials = {
        row.pk: row for row in _materials(organisation.pk, sorted(wanted), sorted({piece.material for piece in there}))
    }
    offers = _offers(organisation.pk, sorted(wanted))
    sellers = {row.pk: row for row in _suppliers(organisation.pk, sorted({offer.supplier_id for offer in offers}))}
    # Many offers share a few materials and suppliers, which are loaded once rather than joined to each.
    for offer in offers:
        offer.material, offer.supplier = materials[offer.material_id], sellers[offer.supplier_id]
    return Season(
        as_of=as_of,
        buyer=buyer_input(organisation),
        delivery_site=delivery_site.slug,
        sites=tuple(sorted((site_input(site) for site in sites), key=lambda site: site.code)),
        houses=tuple(house_input(house) for house in rows),
        materials=tuple(sorted(map(material_input, materials.values()), key=lambda material: material.code)),
        lots=tuple(
            sorted(
                [
                    *_supply(organisation, rows, materials, wanted, as_of),
                    *(_common(organisation, rows, wanted) if from_common else ()),
                ],
                key=lambda lot: lot.ref,
            )
        ),
        suppliers=tuple(sorted(map(supplier_input, sellers.values()), key=lambda supplier: supplier.code)),
        offers=tuple(offer_input(offer) for offer in sorted(offers, key=lambda offer: offer.pk)),
        kerf=organisation.kerf,
        keep_from=organisation.keep_from,
        in_house=there,
    )


def in_house(houses: Collection[House]) -> tuple[InHouse, ...]:
    """What these houses have already: handed out to them, and with the batches that bend their hoops."""
    slugs = {house.pk: house.slug for house in houses}
    pieces = [
        InHouse(slugs[one.house], one.material, one.length, one.quantity, one.purpose, one.offcut)
        for one in issued_to(houses=slugs)
    ]
    pieces += [
        InHouse(slugs[one.house], one.material, one.length, one.sticks, HOOPS, bent=True)
        for one in sticks_for(houses=slugs)
    ]
    return tuple(sorted(pieces, key=lambda one: (one.house, one.material, one.length or 0, one.purpose, one.offcut)))


def sizes_in_house(season: Season) -> Counter[tuple[str, str]]:
    """What the houses had, by house and material: lengths in mm, or counts."""
    sizes: Counter[tuple[str, str]] = Counter()
    for piece in season.in_house:
        sizes[piece.house, piece.material] += piece.quantity * (piece.length or 1)
    return sizes


@compiled_once
def _materials(organisation: int, keys: Sequence[int], codes: Sequence[str]) -> QuerySet[StoredMaterial]:
    return StoredMaterial.objects.filter(Q(pk__in=keys) | Q(code__in=codes), organisation_id=organisation)


@compiled_once
def _offers(organisation: int, materials: Sequence[int]) -> QuerySet[Offer]:
    return Offer.objects.filter(organisation_id=organisation, material__in=materials).prefetch_related("breaks")


@compiled_once
def _suppliers(organisation: int, keys: Sequence[int]) -> QuerySet[Supplier]:
    return Supplier.objects.filter(organisation_id=organisation, pk__in=keys)


def _supply(
    organisation: Organisation,
    houses: Collection[House],
    named: Mapping[int, StoredMaterial],
    materials: Collection[int],
    as_of: date,
) -> Iterator[Lot]:
    """What no other house holds of the lots on hand and of what is on its way; what these houses hold is free.

    A draft is on its way where another house holds something of it: it stays whatever becomes of these houses. Other
    drafts are cancelled when a plan of these houses is accepted. Of a member's lot only what leave is given for.

    ``named``: rows of ``materials`` by key.
    """
    by_lot, by_line = reserved_by_others(organisation=organisation, houses=[house.pk for house in houses])
    lots = _lots(organisation.pk, sorted(materials))
    for row in lots:
        row.material = named[row.material_id]
    owned = [row.pk for row in lots if row.owner_id]
    by_leave = leave_for_whoever(organisation=organisation, lots=owned) if owned else {}
    for row in lots:
        there = min(row.on_hand, by_leave.get(row.pk, 0)) if row.owner_id else row.on_hand - row.promised
        if (free := there - by_lot.get(row.pk, 0)) > 0:
            yield replace(lot_input(row), quantity=free)
    for line in incoming_lines(organisation=organisation, drafts_with=by_line).filter(material__in=materials):
        if (free := line.waited - by_line.get(line.pk, 0)) > 0:
            yield incoming_lot(line, free, as_of=as_of)


def _common(organisation: Organisation, houses: Collection[House], materials: Collection[int]) -> Iterator[Lot]:
    codes = set(materials_of(organisation=organisation).filter(pk__in=materials).values_list("code", flat=True))
    keys = [house.pk for house in houses]
    for _, lots in asking_common_stock.send(Plan, organisation=organisation, materials=codes, houses=keys):
        yield from lots


@compiled_once
def _lots(organisation: int, materials: Sequence[int]) -> QuerySet[StoredLot]:
    """Thousands of lots share a few places, which are loaded once rather than joined to each."""
    rows = StoredLot.objects.filter(organisation_id=organisation, on_hand__gt=0, material__in=materials)
    return rows.prefetch_related("place__site").order_by()


def own_lines(plan: Plan) -> set[str]:
    """How seasons name what is on its way on the plan's own orders."""
    lines = incoming_lines(organisation=plan.organisation).filter(order__plan=plan)
    return {line_name(line) for line in lines}


def work_out(season: Season, progress: Progress | None = None, ended: Callable[[], bool] | None = None) -> SeasonPlan:
    """Raises SeasonError with sentences for the user."""
    return plan_season(season, progress=progress, ended=ended)


def why_too_large(season: Season) -> str:
    """ "" where one plan takes these houses."""
    with use_style(season.buyer.style):
        return size.why_too_large(season)


def pack_season(season: Season) -> Any:
    return snapshot.season_to_json(season)


def pack_plan(plan: SeasonPlan) -> Any:
    return snapshot.plan_to_json(plan)


def digest_of(packed: Any) -> str:
    return snapshot.digest(packed)


def same_inputs(plan: Plan, season: Season) -> bool:
    """Whether the plan was asked just this, in whatever version it is stored."""
    try:
        return season_of(plan) == season
    except snapshot.SnapshotError:
        return False


def changes(old: Season, new: Season) -> list[str]:
    """What differs between two seasons, in sentences; empty when nothing does."""
    return snapshot.changes(old, new)


def houses_as_asked(version: Any, houses: Any) -> dict[str, HouseInput] | None:
    """By slug, the houses of a stored season, given as they lie in it; None: a newer version stored them."""
    try:
        return {house.ref: house for house in snapshot.houses_from_json(version, houses)}
    except snapshot.SnapshotError:
        return None


def knew_in_house(plan: Plan) -> bool:
    """Whether the plan was asked with what its houses had; earlier versions did not look."""
    return _knew_in_house(plan.pk, plan.inputs_digest)


@lru_cache(maxsize=4)
def _knew_in_house(pk: int, digest: str) -> bool:
    rows = Plan.objects.filter(inputs_digest=digest).values_list("inputs__season__in_house", flat=True)
    return rows.get(pk=pk) is not None


def why_offers(plan: Plan) -> list[tuple[str, str]]:
    """What was bought and why this offer, in words, worked out when first asked for."""
    return _why_offers(plan.pk, plan.inputs_digest, plan.result_digest, current_style())


@lru_cache(maxsize=4)
def _why_offers(pk: int, inputs_digest: str, result_digest: str, _style: NumberStyle) -> list[tuple[str, str]]:
    season, result = Plan(pk=pk, inputs_digest=inputs_digest, result_digest=result_digest).snapshot()
    lines = {line.offer: line for order in result.orders for line in order.lines}
    found = buying_reasons.reasons(
        _short_by_day(season, result),
        season.offers,
        season.suppliers,
        season.as_of,
        {ref: line.packs for ref, line in lines.items()},
        places=places(season.buyer.currency),
    )
    names = {supplier.code: supplier.name for supplier in season.suppliers}

    def money(amount: Decimal) -> str:
        return format_money(amount, season.buyer.currency)

    return [(lines[one.offer.ref].description, buying_reasons.told(one, names, money)) for one in found]


#: Houses named before a remark; the rest are counted.
_NAMED = 4


def remarks_of(season: Season) -> list[tuple[str, str]]:
    """(names of houses, what must be known of them), each sentence once; what stops one today comes as a remark too."""
    names, materials = house_names(season), {material.code: material for material in season.materials}
    units = season.buyer.units
    houses_of: dict[str, list[str]] = {}
    found = {}
    for house in season.houses:
        if house.spec not in found:
            problems = check_spec(house.spec, materials, units) or spec_remarks(house.spec, materials, units)
            found[house.spec] = list(dict.fromkeys(problem.message for problem in problems))
        for message in found[house.spec]:
            houses_of.setdefault(message, []).append(names[house.ref])
    return [(_some(houses), message) for message, houses in houses_of.items()]


def _some(houses: list[str], more: str = "more house") -> str:
    if len(houses) <= _NAMED + 1:
        return join_words(houses)
    return join_words([*houses[:_NAMED], f"{count_noun(len(houses) - _NAMED, more)}"])


def slips_of(season: Season, result: SeasonPlan) -> list[tuple[str, date, int]]:
    """What cannot arrive in time: what it is, the day it is needed and how many days it slips."""
    market = Market.of(season.offers, season.as_of)
    names = {(line.material, line.length): line.description for order in result.orders for line in order.lines}
    slips = buying_reasons.slips(_short_by_day(season, result), market)
    return [(names.get(item, item[0]), day, late) for item, days in slips.items() for day, late in days.items()]


def silent_of(season: Season, result: SeasonPlan) -> list[tuple[str, str, str]]:
    """Suppliers whose lead time the plan does not know: code, name, and what rests on it."""
    names = {supplier.code: supplier.name for supplier in season.suppliers}
    return [
        (code, names[code], _some(list(things), "more thing")) for code, things in unknown_leads(season, result).items()
    ]


def _short_by_day(season: Season, result: SeasonPlan) -> dict[Item, dict[date, int]]:
    market = Market.of(season.offers, season.as_of)
    demand: dict[Item, dict[date, int]] = {}
    for short in result.shortfalls:
        item = (short.material, short.length)
        if market.sells(item):
            days = demand.setdefault(item, {})
            days[short.need_by] = days.get(short.need_by, 0) + short.quantity
    return {item: dict(sorted(days.items())) for item, days in demand.items()}
