"""Options as planning takes them: a season of their houses, their counted work, and their lines as a quote."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Any

from django.utils.translation import gettext_lazy

from farmbuild.catalogue.bridge import buyer_input, material_input, offer_input, supplier_input
from farmbuild.catalogue.selectors import offers_of, suppliers_of
from farmbuild.crew.bridge import STEPS, WorkKind, minutes_on_site, person_minutes, work_counts
from farmbuild.crew.models import Kind as StepKind
from farmbuild.crew.models import Rate
from farmbuild.measure import line_total
from farmbuild.orgs.models import Organisation
from farmbuild.planning.inputs import Season, Site
from farmbuild.planning.pricing.goods import Bought, Delivery, bought
from farmbuild.planning.pricing.options import Difference, PricedOption, difference
from farmbuild.planning.pricing.quote import Goods, Hours, Priced, QuoteError, Rates, Use, price
from farmbuild.planning.pricing.quote import Kind as PartKind
from farmbuild.planning.season.plan import SeasonError, plan_season
from farmbuild.quotes.models import QuoteLine, RateFields
from farmbuild.sites.bridge import MATERIAL_FIELDS, house_input, own_rows_of
from farmbuild.sites.models import House

__all__ = [
    "PARTS",
    "PART_NAMES",
    "Bought",
    "Delivery",
    "Difference",
    "PartKind",
    "Priced",
    "PricedOption",
    "QuoteError",
    "SeasonError",
    "Worked",
    "difference",
    "price_lines",
    "work_out",
]

#: Nobody waits for a quote's goods, so all offers that hold today count, however late they come.
_AHEAD = timedelta(days=3650)
_PLACE = "ground"
_HUNDREDTH = Decimal("0.01")
PART_NAMES = {
    PartKind.MATERIALS: gettext_lazy("Materials and delivery"),
    PartKind.WORK: gettext_lazy("Work"),
    PartKind.EQUIPMENT: gettext_lazy("Equipment and trips"),
}
PARTS = {
    QuoteLine.Kind.GOODS: PartKind.MATERIALS,
    QuoteLine.Kind.CHARGE: PartKind.MATERIALS,
    QuoteLine.Kind.HOURS: PartKind.WORK,
    QuoteLine.Kind.EQUIPMENT: PartKind.EQUIPMENT,
    QuoteLine.Kind.TRIP: PartKind.EQUIPMENT,
}
#: Steps in which the bender stands on the floor.
_BENDS = (WorkKind.TRIAL, WorkKind.BEND)


@dataclass(frozen=True)
class Worked:
    """``hours``: by step, of people. ``missing``: what no offer of today gives: (what, why)."""

    goods: tuple[Bought, ...]
    deliveries: tuple[Delivery, ...]
    missing: tuple[tuple[str, str], ...]
    hours: Mapping[str, Decimal]
    bender_days: int
    trips: int


def work_out(
    *,
    organisation: Organisation,
    houses: Sequence[tuple[House, int]],
    rates: RateFields,
    work_rates: Mapping[str, Rate],
    free: Mapping[tuple[str, Decimal | None], int] | None,
    today: date,
) -> Worked:
    """``houses``: unsaved, with their materials, and how many of each. Nothing is stored.

    Raises SeasonError with sentences for the user.
    """
    season = _season(organisation, houses, today)
    plan = plan_season(season)
    goods, deliveries = bought(season, plan, rates.waste, free=free)
    names = {material.code: material.name for material in season.materials}
    missing = [(names.get(row.material, row.material), row.reason) for row in plan.unmet]
    hours, bending = _hours(organisation, houses, work_rates)
    return Worked(
        goods=goods,
        deliveries=deliveries,
        missing=tuple(dict.fromkeys(missing)),
        hours=hours,
        bender_days=_up(bending / rates.day_hours),
        trips=_up(sum(hours.values(), Decimal(0)) / (rates.people * rates.day_hours)),
    )


def _season(organisation: Organisation, houses: Sequence[tuple[House, int]], today: date) -> Season:
    named = {code: material for house, _ in houses for code, material in _rows_of(house).items()}
    offers = list(offers_of(organisation=organisation).filter(material__in={row.pk for row in named.values()}))
    sellers = {offer.supplier_id for offer in offers}
    suppliers = suppliers_of(organisation=organisation).filter(pk__in=sellers)
    inputs = [
        replace(house_input(house), ref=f"house-{at}-{copy}", need_date=today + _AHEAD)
        for at, (house, quantity) in enumerate(houses)
        for copy in range(quantity)
    ]
    return Season(
        as_of=today,
        buyer=buyer_input(organisation),
        delivery_site=_PLACE,
        sites=(Site(_PLACE, "The ground"),),
        houses=tuple(inputs),
        materials=tuple(material_input(named[code]) for code in sorted(named)),
        lots=(),
        suppliers=tuple(sorted(map(supplier_input, suppliers), key=lambda row: row.code)),
        offers=tuple(offer_input(offer) for offer in sorted(offers, key=lambda offer: offer.pk)),
        kerf=organisation.kerf,
        keep_from=organisation.keep_from,
    )


def _rows_of(house: House) -> dict[str, Any]:
    named = [getattr(house, name) for name in MATERIAL_FIELDS]
    named += [house.recipe.tube, house.recipe.sleeve_material]
    named += [row.material for row in own_rows_of(house) if row.material_id]
    return {material.code: material for material in named if material}


def _hours(
    organisation: Organisation, houses: Sequence[tuple[House, int]], rates: Mapping[str, Rate]
) -> tuple[dict[str, Decimal], Decimal]:
    """Person-hours by step, to the hundredth, and hours by the clock in which hoops are bent."""
    minutes: dict[str, Decimal] = dict.fromkeys(StepKind.values, Decimal(0))
    bending = 0
    people = {step.kind: step.people for step in STEPS}
    for house, quantity in houses:
        for work in work_counts(house, organisation.unit_system):
            rate = rates[work.kind]
            if not work.count:
                continue
            minutes[work.kind] += quantity * person_minutes(work.count, rate.minutes_each, rate.minutes_once)
            if work.kind in _BENDS:
                bending += quantity * minutes_on_site(
                    work.count, rate.minutes_each, rate.minutes_once, people[work.kind]
                )
    hours = {kind: (total / 60).quantize(_HUNDREDTH, ROUND_HALF_UP) for kind, total in minutes.items() if total}
    return hours, Decimal(bending) / 60


def _up(number: Decimal) -> int:
    return int(number.to_integral_value(ROUND_CEILING))


def _rates(rates: RateFields) -> Rates:
    return Rates(
        labour=rates.labour,
        overhead=rates.overhead,
        contingency=rates.contingency,
        margin=rates.margin,
        waste=rates.waste,
        tax={
            PartKind.MATERIALS: rates.tax_materials,
            PartKind.WORK: rates.tax_work,
            PartKind.EQUIPMENT: rates.tax_equipment,
        },
    )


def price_lines(rates: RateFields, lines: Iterable[QuoteLine], currency: str) -> PricedOption:
    """The lines of one option but those that are left out. Raises QuoteError."""
    rows = [line for line in lines if not line.left_out]
    by_part: dict[PartKind, list[QuoteLine]] = {part: [] for part in PartKind}
    for line in rows:
        by_part[PARTS[QuoteLine.Kind(line.kind)]].append(line)
    goods = [Goods(line.what, line.quantity, line.price) for line in by_part[PartKind.MATERIALS]]
    hours = [Hours(line.what, line.quantity) for line in by_part[PartKind.WORK]]
    uses = [Use(line.what, line.quantity, line.price) for line in by_part[PartKind.EQUIPMENT]]
    priced = price(_rates(rates), goods, hours, uses, currency)
    costs = {
        PartKind.MATERIALS: _named(by_part[PartKind.MATERIALS], priced.goods),
        PartKind.WORK: [
            (line.what, line_total(line.quantity, rates.labour + rates.overhead, currency))
            for line in by_part[PartKind.WORK]
        ],
        PartKind.EQUIPMENT: _named(by_part[PartKind.EQUIPMENT], priced.uses),
    }
    return PricedOption(priced, costs)


def _named(lines: Collection[QuoteLine], costs: Sequence[Decimal]) -> list[tuple[str, Decimal]]:
    return [(line.what, cost) for line, cost in zip(lines, costs, strict=True)]
