"""The lines of an option worked out of its houses, at today's offers and the rates of its quote."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import Material, Offer
from farmbuild.common.speaking import kept_words
from farmbuild.crew.models import Kind as StepKind
from farmbuild.crew.steps.selectors import rates_of
from farmbuild.measure import count_noun, format_count, format_day, format_decimal
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Option, OptionHouse, QuoteLine, RateFields
from farmbuild.quotes.pricing.bridge import Bought, SeasonError, Worked, work_out
from farmbuild.quotes.pricing.specs import MissingRow, houses_from
from farmbuild.sites.bridge import spec_problems
from farmbuild.stock.reserving.selectors import reserved_by_others
from farmbuild.stock.selectors import own_lots_on_hand

NO_HOUSE = gettext_lazy(
    "This option has no house yet. Add one from a starter or from your own, or add its lines by hand."
)
WHAT_TO_DO = gettext_noop(
    "Add an offer that holds today under Suppliers, or add a line of this material with its price here."
)
_Item = tuple[str, Decimal | None]


@dataclass(frozen=True)
class WorkedOption:
    """``lines``: values of QuoteLine by key, in the order of the page. ``unpriced``: what to say of the rest."""

    lines: dict[str, dict[str, Any]]
    unpriced: list[dict[str, str]]


def worked_option(*, organisation: Organisation, option: Option, rates: RateFields) -> WorkedOption:
    """Reads alone. Raises ValidationError where the option has no house, or one that cannot be built."""
    rows = list(option.houses.all())
    if not rows:
        raise ValidationError(NO_HOUSE)
    houses = _houses(rows, organisation)
    replaced = rates.yard == RateFields.Yard.REPLACED
    today = today_of(organisation=organisation)
    try:
        worked = work_out(
            organisation=organisation,
            houses=[(house, row.quantity) for house, row in zip(houses, rows, strict=True)],
            rates=rates,
            work_rates=rates_of(organisation=organisation),
            free=free_pieces(organisation=organisation) if replaced else None,
            today=today,
        )
    except SeasonError as error:
        raise ValidationError(list(error.reasons)) from error
    unpriced = [{"what": what, "why": why, "do": WHAT_TO_DO} for what, why in worked.missing]
    return WorkedOption(dict(_lines(organisation, worked, rates, today)), unpriced)


def _houses(rows: list[OptionHouse], organisation: Organisation) -> list[Any]:
    try:
        houses = houses_from(rows, organisation=organisation)
    except MissingRow as error:
        raise ValidationError(str(error)) from error
    problems = [
        f"{row.name}: {message}"
        for row, house in zip(rows, houses, strict=True)
        for _, message in spec_problems(house, organisation.unit_system)
    ]
    if problems:
        raise ValidationError(problems)
    return houses


def free_pieces(*, organisation: Organisation) -> Counter[_Item]:
    """Whole pieces in the yard that no house holds, by material and length; offcuts are none."""
    held, _ = reserved_by_others(organisation=organisation, houses=())
    found: Counter[_Item] = Counter()
    for lot in own_lots_on_hand(organisation=organisation).filter(offcut=False):
        if (free := lot.on_hand - lot.promised - held.get(lot.pk, 0)) > 0:
            found[lot.material.code, lot.length] += free
    return found


def _lines(
    organisation: Organisation, worked: Worked, rates: RateFields, today: date
) -> Iterator[tuple[str, dict[str, Any]]]:
    kinds = QuoteLine.Kind
    offers = {row.ref: row for row in Offer.objects.of(organisation).select_related("supplier")}
    codes = {row.material for row in worked.goods}
    materials = {row.code: row for row in Material.objects.of(organisation).filter(code__in=codes)}
    for row in worked.goods:
        offer = offers[row.offer]
        yield (
            f"goods {row.offer}",
            {
                "kind": kinds.GOODS,
                "what": row.description,
                "material": materials[row.material],
                "length": row.length,
                "offer": offer,
                "quantity": Decimal(row.quantity),
                "price": row.price,
                "source": _source(offer.supplier.name, row, today),
                "to_stock": row.to_stock,
            },
        )
    for charge in worked.deliveries:
        yield (
            f"delivery {charge.supplier}",
            {
                "kind": kinds.CHARGE,
                "what": f"Delivery, {charge.name}",
                "quantity": Decimal(1),
                "price": charge.amount,
                "source": f"Charge of {charge.name}",
            },
        )
    for step, hours in worked.hours.items():
        label = kept_words(StepKind(step).label)
        yield (
            f"hours {step}",
            {
                "kind": kinds.HOURS,
                "what": label,
                "step": step,
                "quantity": hours,
                "price": None,
                "source": gettext_noop("Counted work x rates of work"),
            },
        )
    if worked.bender_days:
        yield (
            "bender",
            {
                "kind": kinds.EQUIPMENT,
                "what": gettext_noop("Bender, days"),
                "quantity": Decimal(worked.bender_days),
                "price": rates.bender_day,
                "source": gettext_noop("Rate of this quote"),
            },
        )
    if worked.trips:
        yield (
            "trips",
            {
                "kind": kinds.TRIP,
                "what": gettext_noop("Trips"),
                "quantity": Decimal(worked.trips),
                "price": rates.trip,
                "source": f"Rate of this quote; {count_noun(rates.people, 'person', 'people')},"
                f" {format_decimal(rates.day_hours.normalize())} hours a day",
            },
        )


def _source(supplier: str, row: Bought, today: date) -> str:
    told = [f"{supplier}, {format_day(today)}"]
    if row.waste:
        told.append(f"{count_noun(row.waste, 'stick')} of them waste")
    if row.from_yard:
        told.append(f"{format_count(row.from_yard)} from the yard at replacement price")
    return "; ".join(told)
