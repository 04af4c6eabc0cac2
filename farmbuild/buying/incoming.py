"""What is to come on orders. Plans read it, so nothing here reads plans."""

from collections.abc import Collection
from dataclasses import replace
from decimal import Decimal

from django.db.models import Case, F, IntegerField, Q, QuerySet, Sum, Value, When

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.models.orders import due_day
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site
from farmbuild.stock.piles.selectors import Coming


def still_to_come() -> Case:
    """Pieces of an order line that are waited for, as ``PurchaseOrderLine.to_come``; its name must not be taken."""
    waited = F("quantity") - F("arrived") + F("damaged")
    return Case(
        When(closed_at__isnull=False, then=Value(0)),
        When(quantity__lte=F("arrived") - F("damaged"), then=Value(0)),
        default=waited,
        output_field=IntegerField(),
    )


def incoming_lines(*, organisation: Organisation, drafts_with: Collection[int] = ()) -> QuerySet[PurchaseOrderLine]:
    """Lines of sent orders that are not in yet, with ``waited`` pieces; they come on ``due_on``.

    Material, order, supplier and a site of their own are loaded. ``drafts_with``: of orders that are not sent yet,
    those that have one of these lines too.
    """
    to_send = PurchaseOrderLine.objects.filter(pk__in=drafts_with, order__state=PurchaseOrder.State.DRAFT)
    return (
        PurchaseOrderLine.objects.filter(
            Q(order__state__in=PurchaseOrder.OPEN) | Q(order__in=to_send.values("order")),
            order__organisation=organisation,
            closed_at=None,
        )
        .annotate(waited=still_to_come())
        .filter(waited__gt=0)
        .select_related("material", "order__supplier", "delivery_site")
        .order_by("need_by", "order_id", "position")
    )


def coming_by_length(*, organisation: Organisation, site: Site | None = None) -> list[Coming]:
    """What sent orders still bring, together by material and length, by one query; to ``site`` alone where given."""
    lines = incoming_lines(organisation=organisation)
    if site:
        lines = lines.filter(Q(delivery_site=site) | Q(delivery_site=None, order__delivery_site=site))
    rows = (
        lines.select_related(None)
        .order_by()
        .values_list("material_id", "length", "promised_on", "need_by", "late_days")
        .annotate(pieces=Sum("waited"))
        .values_list("material_id", "length", "promised_on", "need_by", "late_days", "pieces")
    )
    found: dict[tuple[int, Decimal | None], Coming] = {}
    for material, length, promised, need, late, pieces in rows:
        due = due_day(promised, need, late)
        row = found.get((material, length)) or Coming(material, length, 0, due)
        found[material, length] = replace(
            row, pieces=row.pieces + pieces, due=min(row.due, due), more=row.more or row.due != due
        )
    return list(found.values())


def first_due(*, organisation: Organisation) -> PurchaseOrderLine | None:
    """The line of a sent order that is due first; two queries."""
    rows = incoming_lines(organisation=organisation)
    days = rows.order_by().values_list("promised_on", "need_by", "late_days").distinct()
    by_day = {due_day(*said): said for said in days}
    if not by_day:
        return None
    promised, need_by, late = by_day[min(by_day)]
    return rows.filter(promised_on=promised, need_by=need_by, late_days=late).first()


def line_name(line: PurchaseOrderLine) -> str:
    """How a plan names what is to come; lots have references of their own. ``order`` is loaded."""
    return f"order {line.order.number} line {line.position}"


def order_of(name: str) -> str:
    """The number of the order in a ``line_name``."""
    return name.removeprefix("order ").rpartition(" line ")[0]
