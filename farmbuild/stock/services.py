"""Writes of places and lots. A lot's count changes here and nowhere else, and never without a movement.

``Lot.on_hand`` is kept equal to the sum of the lot's movements by one conditional UPDATE in the transaction that
stores the movement. The UPDATE takes the row's lock and looks at the count again under it, so of two people who
take the last stick at once one gets it and the other is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F

from farmbuild.catalogue.models import MOST, Material, Supplier
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock.models import Lot, LotNumbers, Movement, Place
from farmbuild.stock.words import so_many

#: What can be put right after receipt; material and length are what the pieces are, and stay.
DESCRIPTION = ("reference", "place", "supplier", "unit_cost", "received_on", "offcut")


def _check_owner(organisation: Organisation, **rows: Any) -> None:
    """Rows of another organisation never get in, whatever the form let through."""
    for name, row in rows.items():
        if row is not None and row.organisation_id != organisation.pk:
            raise ValidationError({name: "Choose one from the list."})


# Places


@transaction.atomic
def place_named(*, organisation: Organisation, user: User | None, name: str, site: Site | None = None) -> Place:
    """The place of that name, small and capital letters alike, or a new one at ``site``."""
    _check_owner(organisation, site=site)
    name = " ".join(name.split())
    found = Place.objects.of(organisation).select_related("site").filter(name__iexact=name).first()
    if found is None:
        place = Place(organisation=organisation, name=name, site=site)
        place.clean_fields()
        found, _ = Place.objects.get_or_create(organisation=organisation, name=name, defaults={"site": site})
    if site is not None and found.site_id != site.pk:
        where = f"is at {found.site}" if found.site else "is at no site"
        raise ValidationError(
            {"site": f"{found} {where}. Leave the site as it is, or type another name for the place."}
        )
    return found


@transaction.atomic
def change_place(*, organisation: Organisation, user: User, place: Place, name: str, site: Site | None) -> Place:
    """Rename a place or put it at another site; its lots come along."""
    _check_owner(organisation, site=site)
    current = Place.objects.of(organisation).select_for_update().get(pk=place.pk)
    current.name, current.site = " ".join(name.split()), site
    if Place.objects.of(organisation).filter(name__iexact=current.name).exclude(pk=current.pk).exists():
        raise ValidationError({"name": f"There is a place named {current.name} already. Type another name."})
    current.full_clean()
    current.save()
    return current


# Lots


_AT_ONCE = 500


def hold_references(*, organisation: Organisation) -> LotNumbers:
    """Until the transaction ends nobody else takes a reference in this organisation."""
    LotNumbers.objects.get_or_create(organisation=organisation)
    return LotNumbers.objects.select_for_update().get(organisation=organisation)


def take_numbers(*, organisation: Organisation, count: int) -> list[str]:
    """The next ``count`` free references, L-0001 and on, in the caller's transaction."""
    numbers = hold_references(organisation=organisation)
    given: list[str] = []
    while missing := min(count - len(given), _AT_ONCE):
        wanted = [f"L-{number:04d}" for number in range(numbers.last + 1, numbers.last + 1 + missing)]
        # People may have typed such a reference themselves.
        typed = set(Lot.objects.of(organisation).filter(reference__in=wanted).values_list("reference", flat=True))
        given += [reference for reference in wanted if reference not in typed]
        numbers.last += missing
    numbers.save()
    return given


def _check_reference_free(lot: Lot) -> None:
    if Lot.objects.of(lot.organisation).filter(reference=lot.reference).exclude(pk=lot.pk).exists():
        raise ValidationError({"reference": f"There is a lot {lot.reference} already. Type another reference."})


def _check_count(quantity: int, *, field: str) -> None:
    if not 1 <= quantity <= MOST:
        raise ValidationError({field: f"Type a whole number from 1 to {MOST:,}."})


@transaction.atomic
def receive_lot(
    *,
    organisation: Organisation,
    user: User | None,
    material: Material,
    quantity: int,
    place: Place,
    received_on: date,
    length: Decimal | None = None,
    unit_cost: Decimal = Decimal(0),
    supplier: Supplier | None = None,
    reference: str = "",
    offcut: bool = False,
    reason: str = "",
) -> Lot:
    """A new lot with its first movement. Without ``reference`` it gets the next number.

    ``length`` in mm, None for counted things. Raises ValidationError by field; nothing is stored then.
    """
    _check_owner(organisation, material=material, place=place, supplier=supplier)
    _check_count(quantity, field="quantity")
    hold_references(organisation=organisation)
    if not reference:
        [reference] = take_numbers(organisation=organisation, count=1)
    lot = Lot(
        organisation=organisation,
        reference=reference,
        material=material,
        length=length,
        offcut=offcut,
        place=place,
        supplier=supplier,
        unit_cost=unit_cost,
        received_on=received_on,
    )
    _check_reference_free(lot)
    lot.full_clean()
    lot.save()
    _move(lot, Movement.Kind.RECEIVE, quantity, user, reason)
    return lot


@transaction.atomic
def change_lot(*, organisation: Organisation, user: User, lot: Lot, data: Mapping[str, Any]) -> Lot:
    """Put right what was written down wrong; ``data`` holds fields named in DESCRIPTION."""
    _check_owner(organisation, place=data.get("place"), supplier=data.get("supplier"))
    hold_references(organisation=organisation)
    current = Lot.objects.of(organisation).select_for_update().get(pk=lot.pk)
    changed = [name for name in DESCRIPTION if name in data]
    for name in changed:
        setattr(current, name, data[name])
    _check_reference_free(current)
    current.full_clean()
    # Named fields only, so that the count is left to the movements.
    current.save(update_fields=changed)
    return current


# Movements


@transaction.atomic
def adjust_by_count(
    *, organisation: Organisation, user: User, lot: Lot, counted: int, seen: int, reason: str
) -> Movement | None:
    """Set the lot to what was counted; ``seen`` is the count in the books that the counter looked at.

    None when the books were right. Raises ValidationError when the books changed meanwhile: the count may have been
    made before or after that, which nobody but the counter knows.
    """
    if not 0 <= counted <= MOST:
        raise ValidationError({"counted": f"Type a whole number from 0 to {MOST:,}."})
    if counted == seen:
        return None
    _check_reason(reason)
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    if not Lot.objects.filter(pk=current.pk, on_hand=seen).update(on_hand=counted):
        current.refresh_from_db()
        raise ValidationError(
            {
                "counted": f"While this page was open the books went from {so_many(seen, 'piece')}"
                f" to {current.on_hand:,}. Look at the movements, count again if need be, and save."
            }
        )
    return _record(current, Movement.Kind.COUNT, counted - seen, user, reason)


@transaction.atomic
def scrap(*, organisation: Organisation, user: User, lot: Lot, quantity: int, reason: str) -> Movement:
    """Take spoilt pieces out. Raises ValidationError when there are not that many."""
    _check_count(quantity, field="quantity")
    _check_reason(reason)
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return _move(current, Movement.Kind.SCRAP, -quantity, user, reason)


@transaction.atomic
def issue_pieces(*, organisation: Organisation, user: User, lot: Lot, quantity: int, reason: str) -> Movement:
    """Hand pieces out for some work. Raises ValidationError when there are not that many."""
    _check_count(quantity, field="quantity")
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return _move(current, Movement.Kind.ISSUE, -quantity, user, reason)


@transaction.atomic
def return_pieces(*, organisation: Organisation, user: User, lot: Lot, quantity: int, reason: str) -> Movement:
    """Take pieces back that were handed out. What may come back is decided by whoever asked for them."""
    _check_count(quantity, field="quantity")
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return _move(current, Movement.Kind.RETURN, quantity, user, reason)


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise ValidationError({"reason": "Say why in a few words, for example: bent twice."})


def _move(lot: Lot, kind: Movement.Kind, quantity: int, user: User | None, reason: str) -> Movement:
    """Change the count where the result is from 0 to MOST, and record it."""
    moved = Lot.objects.filter(pk=lot.pk, on_hand__gte=max(0, -quantity), on_hand__lte=MOST - max(0, quantity)).update(
        on_hand=F("on_hand") + quantity
    )
    if not moved:
        there = Lot.objects.values_list("on_hand", flat=True).get(pk=lot.pk)
        if quantity < 0:
            raise ValidationError(
                {"quantity": f"{lot} has {so_many(there, 'piece')} left, so {-quantity:,} cannot be taken out."}
            )
        raise ValidationError({"quantity": f"A lot holds at most {MOST:,} pieces, and {lot} has {there:,}."})
    return _record(lot, kind, quantity, user, reason)


def _record(lot: Lot, kind: Movement.Kind, quantity: int, user: User | None, reason: str) -> Movement:
    movement = Movement(lot=lot, kind=kind, quantity=quantity, by=user, reason=reason.strip())
    movement.full_clean()
    movement.save()
    lot.refresh_from_db(fields=["on_hand"])
    return movement
