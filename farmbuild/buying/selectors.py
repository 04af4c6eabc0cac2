"""Reads of purchase orders."""

from collections.abc import Collection, Iterable
from datetime import date

from django.db.models import Count, Exists, Max, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from farmbuild.buying.incoming import incoming_lines, still_to_come
from farmbuild.buying.models import (
    LessWanted,
    PurchaseOrder,
    PurchaseOrderLine,
    Receipt,
    ReceiptLine,
    Reply,
    SentWorkbook,
)
from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House, Site
from farmbuild.stock.models import Lot, Place

#: How the reason of an order begins whose lines went onto another.
JOINED = "joined into order"
#: Orders listed by week; the rest is under Draft.
MOST_TO_SEND = 12

__all__ = [
    "first_to_send",
    "goes_elsewhere",
    "incoming_like",
    "incoming_lines",
    "is_answered",
    "joined_numbers",
    "lateness_of",
    "less_wanted",
    "lines_of",
    "orders_of",
    "orders_of_plan",
    "overtaken",
    "places_elsewhere",
    "receipt_lines_of",
    "receipts_of",
    "replies_of",
    "replies_taken",
    "sent_workbook_of",
    "still_to_come",
]


def orders_of(*, organisation: Organisation, state: str = "") -> QuerySet[PurchaseOrder]:
    """Orders with supplier, site and plan loaded, ``line_count``, ``late`` and ``overtaken``, by one query.

    The first to go out comes first. ``state``: of that one alone.
    """
    return orders_of_key(organisation.pk, state)


def orders_of_key(organisation: int, state: str = "") -> QuerySet[PurchaseOrder]:
    """The same, by the key of the organisation."""
    lines = PurchaseOrderLine.objects.filter(order=OuterRef("pk")).order_by()
    count = lines.values("order").annotate(n=Count("pk")).values("n")
    rows = PurchaseOrder.objects.filter(organisation_id=organisation)
    rows = rows.filter(state=state) if state else rows
    return (
        rows.select_related("supplier", "delivery_site", "plan")
        .defer("plan__inputs", "plan__result")
        .order_by("order_by", "pk")
        .annotate(
            # Looked up for the rows of a page alone.
            line_count=Coalesce(Subquery(count), 0),
            late=Exists(lines.filter(late_days__gt=0)),
            overtaken=overtaken(accepted_at="plan__accepted_at", plan="plan"),
        )
    )


def overtaken(*, accepted_at: str, plan: str) -> Exists:
    """Whether a plan that was accepted later has a house of this plan; to send the orders of both is to buy twice.

    ``accepted_at`` and ``plan`` say where the outer query keeps when the plan was accepted, and its key. A plan that
    is only tried overtakes nothing, and is not overtaken.
    """
    houses = House.objects.filter(plans=OuterRef(plan))
    later = {"plans__accepted_at__gt": OuterRef(accepted_at), "plans__released_at": None}
    return Exists(houses.filter(**later, plans__organisation=OuterRef("organisation")).order_by())


def orders_of_plan(*, organisation: Organisation, plan: int) -> QuerySet[PurchaseOrder]:
    """Those of the plan with that key."""
    return orders_of(organisation=organisation).filter(plan=plan)


def incoming_like(*, lot: Lot) -> QuerySet[PurchaseOrderLine]:
    """Lines on order of what the lot is, the first needed first; an offcut is not bought."""
    rows = incoming_lines(organisation=lot.organisation)
    return rows.none() if lot.offcut else rows.filter(material=lot.material_id, length=lot.length)


def joined_numbers(*, plan: int) -> QuerySet[PurchaseOrder]:
    """Numbers of orders of the plan with that key whose lines stand on another order now."""
    orders = PurchaseOrder.objects.filter(plan=plan, state=PurchaseOrder.State.CANCELLED)
    return orders.filter(cancel_reason__startswith=JOINED).values_list("number", flat=True)


def lines_of(*, order: PurchaseOrder) -> QuerySet[PurchaseOrderLine]:
    return order.lines.select_related("material", "delivery_site")


def first_to_send(*, organisation: Organisation, today: date, outdated: Collection[int] = ()) -> PurchaseOrder | None:
    """The draft that has to go out first, of those that hold and whose day has not passed.

    Drafts of a plan that is out of date wait until someone has looked.
    """
    return next(iter(_next_to_send(organisation.pk, today, sorted(outdated) or None)), None)


@compiled_once
def _next_to_send(organisation: int, today: date, outdated: Collection[int] | None) -> QuerySet[PurchaseOrder]:
    drafts = orders_of_key(organisation, PurchaseOrder.State.DRAFT)
    drafts = drafts.filter(order_by__gte=today, overtaken=False, line_count__gt=0)
    return (drafts if outdated is None else drafts.exclude(plan__in=outdated))[:1]


@compiled_once
def _order_numbered(organisation: int, number: str) -> QuerySet[PurchaseOrder]:
    return orders_of_key(organisation).filter(number=number)


def order_numbered(*, organisation: Organisation, number: str) -> PurchaseOrder | None:
    """One of ``orders_of``."""
    found = next(iter(_order_numbered(organisation.pk, number)), None)
    if found:
        found.organisation = organisation
    return found


@compiled_once
def _drafts_to_send(organisation: int) -> QuerySet[PurchaseOrder]:
    return orders_of_key(organisation, PurchaseOrder.State.DRAFT).filter(line_count__gt=0)[: MOST_TO_SEND + 1]


def drafts_to_send(*, organisation: Organisation) -> list[PurchaseOrder]:
    """Drafts with lines, the first to go out first, one more than ``MOST_TO_SEND`` at most."""
    return _drafts_to_send(organisation.pk)


def first_out_of_date(*, organisation: Organisation, outdated: Collection[int]) -> PurchaseOrder | None:
    """The draft that would go out first, of those whose plans are out of date."""
    drafts = orders_of(organisation=organisation).filter(state=PurchaseOrder.State.DRAFT, overtaken=False)
    return drafts.filter(plan__in=outdated).first()


def lateness_of(*, order: PurchaseOrder) -> dict[str, int]:
    """``lines`` that come late, and by how many ``days`` at most."""
    return order.lines.filter(late_days__gt=0).aggregate(lines=Count("pk"), days=Max("late_days", default=0))


def goes_elsewhere(lines: Iterable[PurchaseOrderLine]) -> bool:
    """Whether one of them goes to a site of its own."""
    return any(line.delivery_site_id for line in lines)


def late_lines_of(*, order: PurchaseOrder) -> QuerySet[PurchaseOrderLine]:
    """Lines whose need date slips, latest first."""
    return order.lines.filter(late_days__gt=0).order_by("-late_days", "position")


def is_answered(lines: Iterable[PurchaseOrderLine]) -> bool:
    """Whether the supplier promised a day or remarked on one of them."""
    return any(line.promised_on or line.remark for line in lines)


def less_wanted(*, order: PurchaseOrder) -> list[LessWanted]:
    """Lines on order that bring more than is needed, by plans that are accepted now, with what is still free of it."""
    rows = LessWanted.objects.filter(line__order=order, plan__accepted_at__isnull=False, plan__released_at=None)
    rows = rows.select_related("line", "plan").defer("plan__inputs", "plan__result").order_by("line__position", "pk")
    found = []
    for row in rows if order.is_open else ():
        row.free = min(row.quantity, row.line.to_come - row.line.reserved)
        if row.free > 0:
            found.append(row)
    return found


def replies_taken(*, order: PurchaseOrder) -> QuerySet[Reply]:
    """Replies that are on the order's lines, without their rows."""
    return order.replies.select_related("taken_by").exclude(taken_at=None).defer("rows")


def receipts_of(*, order: PurchaseOrder) -> QuerySet[Receipt]:
    """In their order, with who wrote them, what they reverse, ``came`` and ``broken`` pieces."""
    return (
        order.receipts.select_related("by", "order", "reverses", "reversed_by")
        .annotate(came=Sum("lines__arrived"), broken=Sum("lines__damaged"))
        .order_by("number")
    )


def receipt_lines_of(*, receipt: Receipt) -> QuerySet[ReceiptLine]:
    return receipt.lines.select_related("order_line__material", "place", "lot").order_by("order_line__position")


def sent_workbook_of(*, order: PurchaseOrder) -> SentWorkbook | None:
    """What is known of the file as sent, without its bytes."""
    return SentWorkbook.objects.filter(order=order).defer("data").first()


def replies_of(*, organisation: Organisation) -> QuerySet[Reply]:
    """With order, supplier and who took them over loaded."""
    return Reply.objects.of(organisation).select_related("order__supplier", "taken_by")


def places_elsewhere(sites: Iterable[Site | None]) -> dict[str, list[str]]:
    """Names of places by the slug of each of these sites; one query, or none."""
    wanted = {site.pk: site.slug for site in sites if site}
    found: dict[str, list[str]] = {slug: [] for slug in wanted.values()}
    if wanted:
        for site, name in Place.objects.filter(site__in=wanted).order_by("name").values_list("site", "name"):
            found[wanted[site]].append(name)
    return found
