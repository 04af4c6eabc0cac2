"""What lies in the yard, and every movement of it."""

from datetime import date, datetime

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads
from farmbuild.api.values import Amount, Currency, Mm, amount, field, mm
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act
from farmbuild.stock.models import Lot, Movement, Place
from farmbuild.stock.selectors import every_lot, places_of

router = Router(tags=["stock"])
YARD = Bearer(Act.SEE, Act.STOCK)


class PlaceOut(Schema):
    id: int
    name: str
    site: str | None


class LotOut(Schema):
    id: int
    reference: str
    material: str = field("The code of what it is.")
    length_mm: Mm | None = field("Of one piece; none for what is counted.")
    offcut: bool
    place: str
    owner: str | None = field("The slug of the member whose pieces they are; none: the organisation's own.")
    received_on: date
    on_hand: int
    reserved: int = field("Held for houses.")
    free: int = field("Held for nobody.")
    currency: Currency
    unit_cost: Amount | None = field("None where costs are not shown.")
    value: Amount | None


class MovementOut(Schema):
    id: int
    lot: str = field("The reference of its lot.")
    kind: str
    quantity: int = field("Above zero: into the lot. Below: out of it.")
    at: datetime
    by: str | None
    reason: str
    paper: str
    house: str | None
    borrower: str
    back_on: date | None
    reverses: int | None = field("The movement that it takes back.")
    currency: Currency
    amount: Amount | None = field("What the pieces cost; none where costs are not shown.")


def lot_out(lot: Lot, currency: str):
    costs = amounts_shown()
    return {
        "id": lot.pk,
        "reference": lot.reference,
        "material": lot.material.code,
        "length_mm": mm(lot.length),
        "offcut": lot.offcut,
        "place": lot.place.name,
        "owner": lot.owner.slug if lot.owner else None,
        "received_on": lot.received_on,
        "on_hand": lot.on_hand,
        "reserved": lot.reserved,
        "free": lot.free,
        "currency": currency,
        "unit_cost": amount(lot.unit_cost) if costs else None,
        "value": amount(lot.value) if costs else None,
    }


def movement_out(row: Movement, currency: str):
    return {
        "id": row.pk,
        "lot": row.lot.reference,
        "kind": row.kind,
        "quantity": row.quantity,
        "at": row.at,
        "by": row.by.display_name if row.by else None,
        "reason": row.reason,
        "paper": row.paper,
        "house": row.house.slug if row.house else None,
        "borrower": row.borrower,
        "back_on": row.back_on,
        "reverses": row.reverses_id,
        "currency": currency,
        "amount": amount(row.amount) if amounts_shown() else None,
    }


def lots_told(request: HttpRequest):
    return every_lot(organisation=request.organisation).select_related("material", "place", "owner")


@reads(router, "/places", "places", listed(PlaceOut), YARD, "Where lots lie")
def places(request: HttpRequest, asked: Part):
    def out(row: Place):
        return {"id": row.pk, "name": row.name, "site": row.site.slug if row.site else None}

    return part(places_of(organisation=request.organisation).select_related("site"), asked, out)


@reads(router, "/lots", "lots", listed(LotOut), YARD, "Lots of the yard")
def lots(request: HttpRequest, asked: Part, material: str | None = None, place: str | None = None, empty: bool = False):
    rows = lots_told(request)
    if material is not None:
        rows = rows.filter(material__code=material)
    if place is not None:
        rows = rows.filter(place__name=place)
    if not empty:
        rows = rows.filter(on_hand__gt=0)
    return part(rows, asked, lambda row: lot_out(row, request.organisation.currency))


@reads(router, "/lots/{reference}", "lot", LotOut, YARD, "One lot")
def lot(request: HttpRequest, reference: str):
    return lot_out(get_object_or_404(lots_told(request), reference=reference), request.organisation.currency)


@reads(router, "/movements", "movements", listed(MovementOut), YARD, "All that came in and went out")
def movements(request: HttpRequest, asked: Part, lot: str | None = None, house: str | None = None):
    rows = Movement.objects.filter(lot__organisation=request.organisation).select_related("lot", "by", "house")
    if lot is not None:
        rows = rows.filter(lot__reference=lot)
    if house is not None:
        rows = rows.filter(house__slug=house)
    return part(rows, asked, lambda row: movement_out(row, request.organisation.currency))
