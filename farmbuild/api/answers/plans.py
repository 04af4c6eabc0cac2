"""Season plans as they are stored: what is cut, what is bought, what is left."""

from datetime import date, datetime
from typing import Annotated

from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from ninja import Field, Router, Schema, Status
from pydantic import StringConstraints

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part, part_of_list
from farmbuild.api.opening import reads, writes
from farmbuild.api.specs import Closed
from farmbuild.api.values import Amount, Currency, Day, Key, Line, Mm, amount, field, mm
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act
from farmbuild.orgs.clock import today_of
from farmbuild.plans.bridge import SeasonPlan, season_plan_of
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import plans_of
from farmbuild.plans.services import create_plan
from farmbuild.plans.tasks import start_once_stored
from farmbuild.sites.selectors import houses_of, sites_of

router = Router(tags=["plans"])
SEE = Bearer(Act.SEE)


class PlanOut(Schema):
    number: int
    name: str
    as_of: date
    delivery_site: str
    state: str = field("waiting, working, ready or failed.")
    steps_done: int
    steps: int
    problem: str = field("Why it stopped, a reason a line.")
    created_at: datetime
    accepted_at: datetime | None
    released_at: datetime | None
    order_count: int | None
    first_order_by: date | None
    currency: Currency
    order_total: Amount | None = field("None where costs are not shown, or nothing is worked out yet.")


class PieceOut(Schema):
    length_mm: Mm
    house: str
    purpose: str


class CutOut(Schema):
    """Equal sticks, cut alike."""

    material: str
    lot: str = field("The reference of the lot; empty where the sticks have to be bought.")
    place: str
    stick_length_mm: Mm
    times: int = field("How many sticks are cut so.")
    pieces: list[PieceOut]
    remainder_mm: Mm
    need_by: date


class BuyLine(Schema):
    supplier: str
    material: str
    description: str
    supplier_code: str
    length_mm: Mm | None
    needed: int
    pack: int
    quantity: int
    currency: Currency
    unit_price: Amount
    line_total: Amount
    order_by: date
    need_by: date
    late_days: int


class LeftOut(Schema):
    material: str
    length_mm: Mm | None
    quantity: int
    place: str
    lot: str
    source: str = field("lot, bought or cut.")
    offcut: bool
    currency: Currency
    value: Amount | None = field("None where costs are not shown.")


def plan_out(plan: Plan):
    return {
        "number": plan.number,
        "name": plan.name,
        "as_of": plan.as_of,
        "delivery_site": plan.delivery_site.slug,
        "state": plan.state,
        "steps_done": plan.steps_done,
        "steps": plan.steps,
        "problem": plan.problem,
        "created_at": plan.created_at,
        "accepted_at": plan.accepted_at,
        "released_at": plan.released_at,
        "order_count": plan.order_count,
        "first_order_by": plan.first_order_by,
        "currency": plan.organisation.currency,
        "order_total": amount(plan.order_total) if amounts_shown() else None,
    }


def _ready(request: HttpRequest, number: int) -> SeasonPlan:
    """What came out. Not found while it is not worked out."""
    plan = get_object_or_404(plans_of(organisation=request.organisation), number=number)
    if plan.state != Plan.State.READY:
        raise Http404("It is not worked out.")
    return season_plan_of(plan)


@reads(router, "/plans", "plans", listed(PlanOut), SEE, "Season plans")
def plans(request: HttpRequest, asked: Part):
    return part(plans_of(organisation=request.organisation), asked, plan_out)


@reads(router, "/plans/{number}", "plan", PlanOut, SEE, "One plan, and how far it is")
def plan(request: HttpRequest, number: Key):
    return plan_out(get_object_or_404(plans_of(organisation=request.organisation), number=number))


@reads(router, "/plans/{number}/cut-list", "plan-cut-list", listed(CutOut), SEE, "What is cut of which stick")
def cut_list(request: HttpRequest, number: Key, asked: Part):
    def out(row):
        return {
            "material": row.material,
            "lot": row.lot,
            "place": row.place,
            "stick_length_mm": mm(row.stick_length),
            "times": row.times,
            "pieces": [
                {"length_mm": mm(piece.length), "house": piece.house, "purpose": piece.purpose} for piece in row.pieces
            ],
            "remainder_mm": mm(row.remainder),
            "need_by": row.need_by,
        }

    return part_of_list(_ready(request, number).layouts, asked, out)


@reads(
    router, "/plans/{number}/buy-list", "plan-buy-list", listed(BuyLine), Bearer(Act.COSTS), "What is bought of whom"
)
def buy_list(request: HttpRequest, number: Key, asked: Part):
    currency = request.organisation.currency
    found = [(order, line) for order in _ready(request, number).orders for line in order.lines]

    def out(pair):
        order, line = pair
        return {
            "supplier": order.supplier,
            "material": line.material,
            "description": line.description,
            "supplier_code": line.supplier_code,
            "length_mm": mm(line.length),
            "needed": line.needed,
            "pack": line.pack,
            "quantity": line.quantity,
            "currency": currency,
            "unit_price": amount(line.unit_price),
            "line_total": amount(line.line_total),
            "order_by": order.order_by,
            "need_by": line.need_by,
            "late_days": line.late_days,
        }

    return part_of_list(found, asked, out)


@reads(
    router,
    "/plans/{number}/leftovers",
    "plan-leftovers",
    listed(LeftOut),
    SEE,
    "What is still there when every house stands",
)
def leftovers(request: HttpRequest, number: Key, asked: Part):
    currency, costs = request.organisation.currency, amounts_shown()

    def out(row):
        return {
            "material": row.material,
            "length_mm": mm(row.length),
            "quantity": row.quantity,
            "place": row.place,
            "lot": row.lot,
            "source": row.source,
            "offcut": row.offcut,
            "currency": currency,
            "value": amount(row.value) if costs else None,
        }

    return part_of_list(_ready(request, number).leftovers, asked, out)


class PlanIn(Closed):
    name: Annotated[Line, StringConstraints(min_length=1, max_length=120)]
    houses: Annotated[list[Line], Field(min_length=1, max_length=500)] = field("Slugs of houses in use.")
    delivery_site: Line = field("The slug of the site that orders go to.")
    as_of: Day | None = field("None: today.", None)


class PlanAsked(Schema):
    same: bool = field("A plan that was asked just this was there already.")
    address: str = field("Ask there how far it is.")
    plan: PlanOut


@writes(router, "/plans", "plan-ask", PlanAsked, Bearer(Act.PLAN), "Ask for a plan: it is worked out later", status=202)
def ask(request: HttpRequest, response: HttpResponse, sent: PlanIn):
    organisation = request.organisation
    site = sites_of(organisation=organisation).filter(slug=sent.delivery_site).first()
    if site is None:
        raise ValidationError({"delivery_site": f"There is no site {sent.delivery_site}."})
    houses = list(houses_of(organisation=organisation).filter(slug__in=sent.houses))
    if unknown := {*sent.houses} - {house.slug for house in houses}:
        raise ValidationError({"houses": f"There is no house {min(unknown)}."})
    asked = create_plan(
        organisation=organisation,
        user=request.user,
        name=sent.name,
        houses=houses,
        delivery_site=site,
        as_of=sent.as_of or today_of(organisation=organisation),
    )
    start_once_stored(plan=asked.plan)
    address = reverse("api-1:plan", args=[asked.plan.number])
    response.headers["Location"] = address
    said = plan_out(plans_of(organisation=organisation).get(pk=asked.plan.pk))
    return Status(202, {"same": asked.same, "address": address, "plan": said})
