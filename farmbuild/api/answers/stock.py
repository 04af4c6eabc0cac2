"""What lies in the yard, and every movement of it."""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Field, Router, Schema, Status
from pydantic import AwareDatetime, StringConstraints

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads, writes
from farmbuild.api.specs import Closed
from farmbuild.api.values import Amount, Cost, Count, Currency, Day, Key, Line, Mm, Size, amount, field, mm
from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act
from farmbuild.orgs.clock import today_of
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock import services
from farmbuild.stock.counts.selectors import counts_of
from farmbuild.stock.counts.services import Counted, record_counts
from farmbuild.stock.models import Lot, Movement, Place, StockCount
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


MOVE = Bearer(Act.STOCK)


class LotIn(Closed):
    """Pieces that came without an order."""

    material: Line
    quantity: Count
    place: Line = field("The name of a place that is there.")
    length_mm: Size | None = None
    offcut: bool = False
    received_on: Day | None = field("None: today.", None)
    unit_cost: Cost | None = field("Of one piece; only by whom costs are shown.", None)
    supplier: Line | None = field("The code of a supplier.", None)
    reference: Annotated[Line, StringConstraints(max_length=40)] = field("None: the next number.", "")
    reason: Line = ""
    paper: Line = ""


class Pieces(Closed):
    quantity: Count
    reason: Line = ""
    paper: Line = ""


class PiecesOfHouse(Pieces):
    house: Line | None = field("The slug of the house that bears them; none: general expense.", None)


class CountedOut(Schema):
    number: int
    state: str
    started_at: datetime


class CountedLot(Closed):
    lot: Line = field("The reference of a lot at a place that is counted.")
    pieces: Count


class CountIn(Closed):
    counted: Annotated[list[CountedLot], Field(min_length=1, max_length=500)]
    counted_at: AwareDatetime | None = field("When it was counted, with its time zone; none: now.", None)


class CountKept(Schema):
    lots: int


def _named(rows: QuerySet, what: str, **named: Any):
    """The row that was named, or a problem at that field."""
    value = next(iter(named.values()))
    found = rows.filter(**named).first()
    if found is None:
        raise ValidationError({what: f"There is no {what} {value}."})
    return found


@writes(router, "/lots", "lot-receive", LotOut, MOVE, "Receive pieces as a new lot")
def receive(request: HttpRequest, sent: LotIn):
    organisation = request.organisation
    if sent.unit_cost is not None and not amounts_shown():
        raise ValidationError({"unit_cost": "This token sees no costs. Leave it out."})
    made = services.receive_lot(
        organisation=organisation,
        user=request.user,
        material=_named(materials_of(organisation=organisation), "material", code=sent.material),
        quantity=sent.quantity,
        place=_named(places_of(organisation=organisation), "place", name=sent.place),
        received_on=sent.received_on or today_of(organisation=organisation),
        length=None if sent.length_mm is None else Decimal(sent.length_mm),
        unit_cost=Decimal(sent.unit_cost or 0),
        supplier=_named(suppliers_of(organisation=organisation), "supplier", code=sent.supplier)
        if sent.supplier
        else None,
        reference=sent.reference,
        offcut=sent.offcut,
        reason=sent.reason,
        paper=sent.paper,
    )
    return Status(201, _lot_again(request, made))


def _lot_again(request: HttpRequest, lot: Lot):
    return lot_out(lots_told(request).get(pk=lot.pk), request.organisation.currency)


def _lot(request: HttpRequest, reference: str) -> Lot:
    return get_object_or_404(lots_told(request), reference=reference)


def _moved(request: HttpRequest, movement: Movement):
    rows = Movement.objects.select_related("lot", "by", "house")
    return Status(201, movement_out(rows.get(pk=movement.pk), request.organisation.currency))


def _of_house(request: HttpRequest, sent: PiecesOfHouse):
    houses = any_house_of(organisation=request.organisation)
    return sent.model_dump() | {"house": _named(houses, "house", slug=sent.house) if sent.house else None}


@writes(router, "/lots/{reference}/receipts", "lot-more", MovementOut, MOVE, "Receive more of the same into a lot")
def receive_more(request: HttpRequest, reference: str, sent: Pieces):
    who, lot = {"organisation": request.organisation, "user": request.user}, _lot(request, reference)
    return _moved(request, services.receive_more(**who, lot=lot, **sent.model_dump()))


@writes(router, "/lots/{reference}/issues", "lot-issue", MovementOut, MOVE, "Hand pieces out")
def issue(request: HttpRequest, reference: str, sent: PiecesOfHouse):
    who, lot = {"organisation": request.organisation, "user": request.user}, _lot(request, reference)
    return _moved(request, services.issue_pieces(**who, lot=lot, **_of_house(request, sent)))


@writes(router, "/lots/{reference}/returns", "lot-return", MovementOut, MOVE, "Take back pieces that were handed out")
def give_back(request: HttpRequest, reference: str, sent: PiecesOfHouse):
    who, lot = {"organisation": request.organisation, "user": request.user}, _lot(request, reference)
    return _moved(request, services.return_pieces(**who, lot=lot, **_of_house(request, sent)))


@writes(router, "/lots/{reference}/scrap", "lot-scrap", MovementOut, MOVE, "Take spoilt pieces out")
def scrap(request: HttpRequest, reference: str, sent: PiecesOfHouse):
    who, lot = {"organisation": request.organisation, "user": request.user}, _lot(request, reference)
    return _moved(request, services.scrap(**who, lot=lot, **_of_house(request, sent)))


@reads(router, "/counts", "counts", listed(CountedOut), YARD, "Stock counts")
def counts(request: HttpRequest, asked: Part, state: StockCount.State | None = None):
    rows = counts_of(organisation=request.organisation)

    def out(row: StockCount):
        return {"number": row.number, "state": row.state, "started_at": row.started_at}

    return part(rows.filter(state=state) if state else rows, asked, out)


@writes(router, "/counts/{number}/entries", "count-record", CountKept, MOVE, "Write down what was counted")
def record_counted(request: HttpRequest, number: Key, sent: CountIn):
    organisation = request.organisation
    count = get_object_or_404(counts_of(organisation=organisation), number=number)
    keys = dict(
        Lot.objects.of(organisation)
        .filter(reference__in=[row.lot for row in sent.counted])
        .values_list("reference", "pk")
    )
    if unknown := [row.lot for row in sent.counted if row.lot not in keys]:
        raise ValidationError({"counted": f"There is no lot {unknown[0]}."})
    kept = record_counts(
        organisation=organisation,
        user=request.user,
        count=count,
        counted=[Counted(keys[row.lot], row.pieces) for row in sent.counted],
        counted_at=sent.counted_at,
    )
    return Status(201, {"lots": kept})
