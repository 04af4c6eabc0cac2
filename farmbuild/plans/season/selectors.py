"""Days of houses and of orders for the season line; as few queries for forty houses as for one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from farmbuild.buying.bridge import numbered
from farmbuild.buying.incoming import still_to_come
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.common.season_line import Stretch, joined
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.bridge import Season, SeasonPlan
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation

#: States of orders that wait to go out or to come.
OPEN = (PurchaseOrder.State.DRAFT, *PurchaseOrder.OPEN)
#: By the key of a task, when it begins and ends.
Places = Mapping[int, tuple[datetime, datetime]]


@dataclass(frozen=True)
class OrderDay:
    """What is held for a house on one order: a draft goes out by that day, what was sent comes on it."""

    order: str
    sent: bool
    day: date


@dataclass
class HouseDays:
    """``due``: when it should stand; ``need``: when its materials should be there. Days of the calendar."""

    pk: int
    name: str
    slug: str
    need: date
    due: date | None
    work: tuple[Stretch, ...] = ()
    #: Of the work that is not done yet.
    open_work: tuple[Stretch, ...] = ()
    tasks: int = 0
    tasks_done: int = 0
    orders: list[OrderDay] = field(default_factory=list)


def day_span(begins: datetime, ends: datetime, zone: ZoneInfo) -> Stretch:
    """What ends at midnight has ended on the day before."""
    last = max(begins, ends - timedelta(microseconds=1))
    return Stretch(begins.astimezone(zone).date(), last.astimezone(zone).date())


def days_of_houses(
    *, organisation: Organisation, houses: Collection[int] | None = None, places: Places | None = None
) -> list[HouseDays]:
    """By name. ``houses``: those with these keys, else all that have tasks; ``places``: where a schedule puts tasks
    that are not done, else where they stand.
    """
    rows = House.objects.of(organisation).filter(archived_at=None, site__archived_at=None)
    rows = rows.filter(tasks__isnull=False) if houses is None else rows.filter(pk__in=list(houses))
    named = rows.order_by("name", "pk").distinct().values_list("pk", "name", "slug", "need_date", "work__due")
    found = {row[0]: HouseDays(*row) for row in named}
    worked = _days_worked(organisation, found)
    zone = zone_of(organisation=organisation)
    spans: dict[int, list[Stretch]] = defaultdict(list)
    to_do: dict[int, list[Stretch]] = defaultdict(list)
    tasks = House.objects.of(organisation).filter(pk__in=list(found), tasks__isnull=False).order_by()
    for house, task, state, begins, ends in tasks.values_list(
        "pk", "tasks__pk", "tasks__state", "tasks__starts_at", "tasks__ends_at"
    ):
        done = state == "done"
        found[house].tasks += 1
        found[house].tasks_done += done
        spans[house] += worked[task]
        if places is not None and not done:
            begins, ends = places.get(task, (None, None))
        if begins and ends and not (done and worked[task]):
            span = day_span(begins, ends, zone)
            spans[house].append(span)
            to_do[house] += [] if done else [span]
    for house, days in found.items():
        days.work, days.open_work = joined(spans[house]), joined(to_do[house])
    for house, order in _orders_held(organisation, found):
        found[house].orders.append(order)
    return list(found.values())


def _days_worked(organisation: Organisation, houses: Collection[int]) -> dict[int, list[Stretch]]:
    """By task, days on which something was recorded and not taken back."""
    rows = House.objects.of(organisation).filter(
        pk__in=list(houses),
        tasks__actuals__day__isnull=False,
        tasks__actuals__reverses=None,
        tasks__actuals__reversed_by=None,
    )
    found: dict[int, list[Stretch]] = defaultdict(list)
    for task, day in rows.order_by().values_list("tasks__pk", "tasks__actuals__day").distinct():
        found[task].append(Stretch(day, day))
    return found


def _orders_held(organisation: Organisation, houses: Collection[int]) -> Iterator[tuple[int, OrderDay]]:
    """Each order and day once a house, the first day first."""
    states = [PurchaseOrder.State.DRAFT, *PurchaseOrder.OPEN]
    rows = (
        Reservation.objects.of(organisation)
        .filter(Q(order_line__order__state__in=states), house__in=list(houses))
        .select_related("order_line__order")
        .only("house", "order_line__promised_on", "order_line__need_by", "order_line__late_days",
              "order_line__order__number", "order_line__order__state", "order_line__order__order_by")
        .order_by()
    )  # fmt: skip
    seen = set()
    for row in rows:
        line, order = row.order_line, row.order_line.order
        sent = order.state != PurchaseOrder.State.DRAFT
        seen.add((line.due_on if sent else order.order_by, order.number, sent, row.house_id))
    for day, number, sent, house in sorted(seen):
        yield house, OrderDay(number, sent, day)


@dataclass
class OrderDays:
    """``coming``: days on which what is waited for comes, or would; ``came``: the last day on which something did.

    ``late_days``: by how many of them a line comes too late, even sent in time.
    """

    number: str
    supplier: str
    order_by: date
    need_by: date
    sent_on: date | None
    came: date | None
    coming: tuple[date, ...] = ()
    late_days: int = 0


def days_of_orders(*, plan: Plan) -> list[OrderDays]:
    """Of an accepted plan, the first to go out first; two queries."""
    return _days_of(PurchaseOrder.objects.filter(plan=plan).exclude(state=PurchaseOrder.State.CANCELLED))


def days_of_open_orders(*, organisation: Organisation, most: int) -> list[OrderDays]:
    """Of so many that wait to go out or to come, the first to go out first; two queries."""
    waiting = PurchaseOrder.objects.of(organisation).filter(state__in=OPEN)
    return _days_of(waiting.filter(Exists(PurchaseOrderLine.objects.filter(order=OuterRef("pk")))), most)


def _days_of(rows: QuerySet[PurchaseOrder], most: int | None = None) -> list[OrderDays]:
    taken_back = Q(receipts__reverses=None, receipts__reversed_by=None)
    named = rows.order_by("order_by", "pk").annotate(came=Max("receipts__received_on", filter=taken_back))[:most]
    found = {
        pk: OrderDays(*values)
        for pk, *values in named.values_list("pk", "number", "supplier__name", "order_by", "need_by", "sent_on", "came")
    }
    lines = PurchaseOrderLine.objects.filter(order__in=list(found)).annotate(waited=still_to_come())
    waited: dict[int, set[date]] = defaultdict(set)
    for line in lines.filter(waited__gt=0).order_by():
        waited[line.order_id].add(line.due_on)
        found[line.order_id].late_days = max(found[line.order_id].late_days, line.late_days)
    for pk, days in waited.items():
        found[pk].coming = tuple(sorted(days))
    return list(found.values())


def tried_days(season: Season, result: SeasonPlan, *, number: int) -> list[OrderDays]:
    """The same of what a plan with that number would order."""
    suppliers = {supplier.code: supplier.name for supplier in season.suppliers}
    found = [
        OrderDays(
            name,
            suppliers[order.supplier],
            order.order_by,
            order.need_by,
            sent_on=None,
            came=None,
            coming=tuple(sorted({line.need_by + timedelta(days=line.late_days) for line in order.lines})),
            late_days=max(line.late_days for line in order.lines),
        )
        for name, order in numbered(result.orders, number).items()
    ]
    return sorted(found, key=lambda order: (order.order_by, order.number))
