"""Writes of materials, suppliers and offers: one transaction a user action, checked before anything is stored."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.catalogue.bridge import read_size, wall_problem
from farmbuild.catalogue.history import keep, record_of
from farmbuild.catalogue.models import MAX_QUANTITY, Material, Offer, OfferRecord, PriceBreak, Supplier
from farmbuild.common.slugs import free_code
from farmbuild.measure import POINT, UnitSystem, by_sign, format_count, format_decimal, use_style
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.orgs.numbers import style_of

STARTING_CATALOGUE = settings.BASE_DIR / "fixtures" / "catalogue.json"
METRIC_CATALOGUE = settings.BASE_DIR / "fixtures" / "catalogue_metric.json"
#: Last parts of addresses that pages of this app use.
RESERVED = frozenset({"new", "add-shipped"})
MATERIAL_FIELDS = ("name", "kind", "width", "thickness", "swaged", "note", "yield_mpa", "yield_source", "tax_percent")
SUPPLIER_FIELDS = ("name", "contact", "address", "delivery_charge", "free_delivery_from", "minimum_order")
OFFER_FIELDS = ("material", "length", "pack", "lead_days", "valid_until", "supplier_code", "listed_as")

Breaks = Sequence[tuple[int, Decimal]]


def _put(row: models.Model, names: Sequence[str], data: Mapping[str, Any]) -> None:
    for name in names:
        if name in data:
            setattr(row, name, data[name])


def _check(row: Material | Supplier) -> None:
    if isinstance(row, Material):
        row.clean_fields()
        if problem := wall_problem(row):
            raise ValidationError({"thickness": problem})
        if row.yield_mpa is not None and row.kind != Material.Kind.TUBE:
            raise ValidationError({"yield_mpa": gettext("Only tubes are bent. Leave the yield empty.")})
    row.full_clean()


def _create_coded(row: Material | Supplier) -> None:
    """Store a row whose code may have been taken a moment ago by someone else; one without a code gets one."""
    # One at a time, so that two who name a thing alike get two codes.
    Organisation.objects.select_for_update(no_key=True).get(pk=row.organisation_id)
    if not row.code:
        rows = type(row).objects.of(row.organisation)
        row.code = free_code(row.name, taken_in=rows, fallback=row._meta.model_name, reserved=RESERVED)
    taken = ValidationError(
        {"code": gettext("“%(code)s” is taken already. Type another short name.") % {"code": row.code}}
    )
    if type(row).objects.of(row.organisation).filter(code=row.code).exists():
        raise taken
    _check(row)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise taken from error


# Materials


@needs(Act.PLAN)
@transaction.atomic
def create_material(*, organisation: Organisation, user: User | None, code: str = "", **data: Any) -> Material:
    """``data`` holds fields of Material; without a ``code`` one is made of the name.

    Raises ValidationError by field; a code that is taken is one.
    """
    material = Material(organisation=organisation, code=code)
    _put(material, MATERIAL_FIELDS, data)
    _create_coded(material)
    return material


@needs(Act.PLAN)
@transaction.atomic
def change_material(*, organisation: Organisation, user: User, material: Material, data: Mapping[str, Any]) -> Material:
    """The code stays, because plans and files name the material by it."""
    current = Material.objects.of(organisation).select_for_update().get(pk=material.pk)
    was_by_length = current.by_length
    _put(current, MATERIAL_FIELDS, data)
    if current.by_length != was_by_length and (current.lots.exists() or current.offers.exists()):
        raise ValidationError(
            {
                "kind": gettext(
                    "Lots or offers of it are stored by length, so it stays that way. Make a new material instead."
                )
                if was_by_length
                else gettext(
                    "Lots or offers of it are stored by count, so it stays that way. Make a new material instead."
                )
            }
        )
    _check(current)
    current.save()
    return current


@needs(Act.PLAN)
@transaction.atomic
def ensure_material(*, organisation: Organisation, user: User | None, code: str, **data: Any) -> Material:
    """The material of that code as it is; where there is none, a new one made from ``data``."""
    found = Material.objects.of(organisation).filter(code=code).first()
    return found or create_material(organisation=organisation, user=user, code=code, **data)


@needs(Act.PLAN)
@transaction.atomic
def archive_material(*, organisation: Organisation, user: User, material: Material) -> None:
    """Houses, recipes, offers and lots of it keep it; new ones are not offered it."""
    Material.objects.of(organisation).filter(pk=material.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.PLAN)
@transaction.atomic
def bring_back_material(*, organisation: Organisation, user: User | None, material: Material) -> None:
    Material.objects.of(organisation).filter(pk=material.pk).update(archived_at=None)


@transaction.atomic
def add_starting_catalogue(*, organisation: Organisation, units: str = "") -> list[Material]:
    """Add the shipped materials that the organisation does not have; gives those added.

    ``units``: of which catalogue; "" is that of the organisation's own.
    """
    shipped = shipped_materials(units or organisation.unit_system)
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    there = set(Material.objects.of(organisation).values_list("code", flat=True))
    added = []
    for row in shipped:
        if row["code"] in there:
            continue
        material = Material(organisation=organisation, **as_written_by(row, organisation))
        # Its constraints hold for every row that is shipped, as a test has it; each would ask the database.
        material.full_clean(exclude=["organisation"], validate_unique=False, validate_constraints=False)
        added.append(material)
    # Two people may press the button at once; what the other one stored first stays.
    Material.objects.bulk_create(added, ignore_conflicts=True)
    return list(Material.objects.of(organisation).filter(code__in=[material.code for material in added]))


@transaction.atomic
def fill_shipped_notes(*, organisation: Organisation) -> int:
    """Note the source on shipped materials that say none and have the sizes shipped; gives how many."""
    shipped = {row["code"]: row for units in UnitSystem for row in shipped_materials(units)}
    silent = Material.objects.of(organisation).select_for_update().filter(note="", code__in=shipped)
    filled = []
    for material in silent:
        row = shipped[material.code]
        if (material.kind, material.width, material.thickness) == (row["kind"], row["width"], row["thickness"]):
            material.note = row["note"]
            filled.append(material)
    Material.objects.bulk_update(filled, ["note"])
    return len(filled)


def shipped_materials(units: str) -> list[dict[str, Any]]:
    """The starting catalogue in those units, as values of materials; the files are written with decimal points."""
    rows = _rows_of(STARTING_CATALOGUE)["materials"]
    if units == UnitSystem.METRIC:
        metric = _rows_of(METRIC_CATALOGUE)
        rows = metric["materials"] + [row for row in rows if row["code"] in metric["also"]]
    with use_style(POINT):
        return [
            row | {name: read_size(row[name]) if row[name] else None for name in ("width", "thickness")} for row in rows
        ]


def as_written_by(row: dict[str, Any], organisation: Organisation) -> dict[str, Any]:
    """A shipped row, its name in the organisation's way to write numbers: 32 × 1,5 mm. Notes name standards."""
    return row | {"name": by_sign(row["name"], style_of(organisation=organisation))}


def _rows_of(file: Path) -> dict[str, Any]:
    return json.loads(file.read_text(encoding="utf-8"))


# Suppliers


@needs(Act.PLAN)
@transaction.atomic
def create_supplier(*, organisation: Organisation, user: User | None, code: str = "", **data: Any) -> Supplier:
    """``data`` holds fields of Supplier; without a ``code`` one is made of the name.

    Raises ValidationError by field; a code that is taken is one.
    """
    lock_currency(organisation=organisation)
    supplier = Supplier(organisation=organisation, code=code)
    _put(supplier, SUPPLIER_FIELDS, data)
    _create_coded(supplier)
    return supplier


@needs(Act.PLAN)
@transaction.atomic
def change_supplier(*, organisation: Organisation, user: User, supplier: Supplier, data: Mapping[str, Any]) -> Supplier:
    """The code stays, because plans name the supplier by it."""
    lock_currency(organisation=organisation)
    current = Supplier.objects.of(organisation).select_for_update().get(pk=supplier.pk)
    _put(current, SUPPLIER_FIELDS, data)
    current.full_clean()
    current.save()
    return current


# Offers


def check_breaks(breaks: Breaks) -> None:
    """Raise ValidationError unless there is a price from 1 piece, each amount once, and no price rises."""
    if not breaks:
        raise ValidationError(gettext("Type at least one price: the price of one piece from 1 up."))
    amounts = [amount for amount, _ in breaks]
    for amount in amounts:
        if not 1 <= amount <= MAX_QUANTITY:
            raise ValidationError(
                gettext("A price cannot start from %(amount)s. Type 1 or more.") % {"amount": format_count(amount)}
            )
        if amounts.count(amount) > 1:
            raise ValidationError(
                gettext("Two prices start from %(amount)s. Leave one out.") % {"amount": format_count(amount)}
            )
    ordered = sorted(breaks)
    if ordered[0][0] != 1:
        raise ValidationError(
            gettext(
                "The first price starts from %(ordered)s pieces. Add the price from 1 piece, even if it is the same."
            )
            % {"ordered": format_count(ordered[0][0])}
        )
    for (amount, price), (next_amount, next_price) in pairwise(ordered):
        if next_price > price:
            raise ValidationError(
                gettext(
                    "The price from %(next_amount)s pieces (%(next_price)s) is above the one from %(amount)s "
                    "(%(price)s). A larger amount costs the same a piece, or less."
                )
                % {
                    "next_amount": format_count(next_amount),
                    "next_price": format_decimal(next_price),
                    "amount": format_count(amount),
                    "price": format_decimal(price),
                }
            )


@needs(Act.PLAN)
@transaction.atomic
def save_offer(
    *,
    organisation: Organisation,
    user: User | None,
    supplier: Supplier,
    data: Mapping[str, Any],
    breaks: Breaks,
    offer: Offer | None = None,
) -> Offer:
    """Store a new offer, or ``data`` and ``breaks`` over ``offer``.

    ``data`` holds fields of Offer, ``breaks`` pairs of from how many pieces and the price of one. Raises
    ValidationError by field, or without a field for the prices.
    """
    for name, row in (("supplier", supplier), ("material", data.get("material"))):
        if row is not None and row.organisation_id != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})
    lock_currency(organisation=organisation)
    if offer is None:
        current = Offer(organisation=organisation, supplier=supplier)
    else:
        current = Offer.objects.of(organisation).select_for_update().get(pk=offer.pk, supplier=supplier)
    _put(current, OFFER_FIELDS, data)
    current.full_clean()
    check_breaks(breaks)
    current.save()
    current.breaks.all().delete()
    for amount, price in sorted(breaks):
        row = PriceBreak(offer=current, from_quantity=amount, unit_price=price)
        row.full_clean()
        row.save()
    record(current, breaks, organisation=organisation, user=user)
    return current


def record(
    offer: Offer,
    breaks: Breaks,
    *,
    organisation: Organisation,
    user: User | None,
    kind: str = OfferRecord.Kind.TYPED,
) -> None:
    """Add what the offer says from today on to its history, unless it said the same before."""
    since = today_of(organisation=organisation)
    row = record_of(offer, breaks, organisation=organisation, user=user, since=since, kind=kind)
    keep([row], organisation=organisation)


@needs(Act.PLAN)
@transaction.atomic
def remove_offer(*, organisation: Organisation, user: User, offer: Offer) -> None:
    """Stored plans and orders keep what they copied from it."""
    lock_currency(organisation=organisation)
    current = Offer.objects.of(organisation).select_for_update().get(pk=offer.pk)
    breaks = list(current.breaks.values_list("from_quantity", "unit_price"))
    record(current, breaks, organisation=organisation, user=user, kind=OfferRecord.Kind.REMOVED)
    current.delete()


@needs(Act.PLAN)
@transaction.atomic
def set_lead_days(*, organisation: Organisation, user: User, supplier: Supplier, days: int) -> int:
    """Say one lead time for all offers of the supplier that have none; gives how many."""
    lock_currency(organisation=organisation)
    silent = Offer.objects.of(organisation).select_for_update().filter(supplier=supplier, lead_days=None)
    found = list(silent.order_by("pk"))
    for offer in found:
        offer.lead_days = days
        offer.clean_fields(exclude=["organisation", "supplier", "material"])
    Offer.objects.bulk_update(found, ["lead_days"], batch_size=500)
    prices = prices_of([offer.pk for offer in found])
    since = today_of(organisation=organisation)
    rows = [record_of(row, prices[row.pk], organisation=organisation, user=user, since=since) for row in found]
    keep(rows, organisation=organisation)
    return len(found)


def prices_of(offers: Sequence[int]) -> dict[int, list[tuple[int, Decimal]]]:
    """From how many pieces and the price of one, by the key of the offer."""
    found: dict[int, list[tuple[int, Decimal]]] = {key: [] for key in offers}
    for key, amount, price in PriceBreak.objects.filter(offer__in=offers).values_list(
        "offer", "from_quantity", "unit_price"
    ):
        found[key].append((amount, price))
    return found
