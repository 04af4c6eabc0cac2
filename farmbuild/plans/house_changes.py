"""What a worked out plan changes in what is ordered and held for its houses: more of these, less of those, in money.

Money of lines is with tax, and rounded at the line as orders are; what lies over is valued at its cost in stock.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from hashlib import sha256

from django.db.models import Exists, OuterRef, Sum

from farmbuild.buying.bridge import sums_of
from farmbuild.buying.incoming import line_name
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.measure import round_money
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving.wanted import wanted_reservations
from farmbuild.plans.signals import asking_what_waits
from farmbuild.stock.models import Lot, Reservation

State = PurchaseOrder.State
#: Supplier's code, code of the material ("" for delivery), and length of one.
Key = tuple[str, str, Decimal | None]


class Kind(StrEnum):
    """In the order of the page."""

    MORE = "more"
    DRAFT = "draft"
    SENT = "sent"
    YARD = "yard"
    ASK = "ask"
    WITHDRAW = "withdraw"


@dataclass(frozen=True)
class Row:
    """``quantity`` more or less of a material; ``order``: from which it is taken. ``day``: when more of it is there.

    ``material`` is "" for delivery. ``late_days`` after ``need_by``. Of common stock ``supplier`` is the cooperative.
    """

    kind: Kind
    material: str
    length: Decimal | None
    quantity: int
    money: Decimal
    supplier: str = ""
    order: str = ""
    line: int | None = None
    lot: int | None = None
    need_by: date | None = None
    day: date | None = None
    late_days: int = 0

    @property
    def pieces(self) -> int | None:
        """None for delivery."""
        return self.quantity if self.material else None


@dataclass(frozen=True)
class HouseChange:
    """``before``: what drafts that would be cancelled come to, ``after``: what is ordered instead."""

    rows: tuple[Row, ...]
    replaced: tuple[Plan, ...]
    before: Decimal
    after: Decimal

    def total(self, *kinds: Kind) -> Decimal:
        return sum((row.money for row in self.rows if row.kind in kinds), Decimal(0))

    def count(self, kind: Kind) -> int:
        return sum(row.kind is kind for row in self.rows)

    @property
    def more(self) -> Decimal:
        return self.total(Kind.MORE)

    @property
    def less(self) -> Decimal:
        return self.total(Kind.DRAFT)

    @property
    def to_ask(self) -> Decimal:
        return self.total(Kind.SENT)

    @property
    def lies_over(self) -> Decimal:
        return self.total(Kind.YARD)

    @property
    def asked(self) -> Decimal:
        return self.total(Kind.ASK)

    @property
    def withdrawn(self) -> Decimal:
        return self.total(Kind.WITHDRAW)

    @property
    def latest(self) -> Row | None:
        """What comes last of what is too late."""
        late = [row for row in self.rows if row.late_days]
        return max(late, key=lambda row: (row.late_days, row.material), default=None)

    @property
    def seen(self) -> str:
        """Stands for everything that the page shows."""
        return sha256(repr((self.rows, [plan.pk for plan in self.replaced])).encode()).hexdigest()


def change_of(*, plan: Plan) -> HouseChange:
    """Of a plan that is worked out and not accepted; a fixed number of queries."""
    season, result = plan.snapshot()
    houses = list(plan.houses.values_list("pk", flat=True))
    replaced = _replaced(plan, houses)
    drafts = list(_drafts(replaced, houses))
    rows = [
        *_bought(season, result, drafts, plan.organisation.currency),
        *freed_rows(plan=plan, season=season, result=result, houses=houses),
        *_of_common_stock(plan, result, houses),
    ]
    order = list(Kind)
    return HouseChange(
        rows=tuple(
            sorted(
                rows, key=lambda row: (order.index(row.kind), row.supplier, row.material, -(row.length or 0), row.order)
            )
        ),
        replaced=tuple(replaced),
        before=sum((draft.total for draft in drafts), Decimal(0)),
        after=sum((order.total for order in result.orders), Decimal(0)),
    )


def _of_common_stock(plan: Plan, result: bridge.SeasonPlan, houses: list[int]) -> Iterator[Row]:
    """What is asked for more, and what of it waits now and is withdrawn, by cooperative and thing."""
    more: Counter[Key] = Counter()
    money: defaultdict[Key, Decimal] = defaultdict(Decimal)
    for taken in result.from_common:
        key = taken.cooperative, taken.material, taken.length
        more[key] += taken.quantity
        money[key] += taken.amount
    asked = asking_what_waits.send(Plan, organisation=plan.organisation, houses=houses)
    for row in (row for _, rows in asked for row in rows):
        key = row.cooperative, row.material, row.length
        more[key] -= row.quantity
        money[key] -= row.amount
    for (cooperative, material, length), quantity in more.items():
        if quantity:
            kind = Kind.ASK if quantity > 0 else Kind.WITHDRAW
            amount = abs(money[cooperative, material, length])
            yield Row(kind, material, length, abs(quantity), amount, supplier=cooperative)


def _replaced(plan: Plan, houses: list[int]) -> list[Plan]:
    """Accepted plans that keep no house when this one is accepted."""
    built = PlanHouse.objects.filter(accepted=True, plan__organisation=plan.organisation).exclude(plan=plan)
    mine = set(built.filter(house__in=houses).values_list("plan", flat=True))
    keep = set(built.filter(plan__in=mine).exclude(house__in=houses).values_list("plan", flat=True))
    return list(Plan.objects.filter(pk__in=mine - keep).defer("inputs", "result").order_by("number"))


def _drafts(plans: list[Plan], houses: list[int]) -> Iterator[PurchaseOrder]:
    """Those that are cancelled then; a draft that another house needs stays."""
    others = Reservation.objects.filter(order_line__order=OuterRef("pk")).exclude(house__in=houses)
    rows = PurchaseOrder.objects.filter(~Exists(others), plan__in=plans, state=State.DRAFT).select_related("supplier")
    yield from rows.prefetch_related("lines__material").order_by("pk")


@dataclass
class _Sum:
    quantity: int = 0
    money: Decimal = Decimal(0)
    order: str = ""
    need_by: date | None = None
    late_days: int = 0


def _bought(
    season: bridge.Season, result: bridge.SeasonPlan, drafts: list[PurchaseOrder], currency: str
) -> Iterator[Row]:
    """What new orders bring against the drafts that they replace, by supplier and thing; all of it adds up to both."""
    old, new = _of_drafts(drafts), _of_orders(result)
    names = {supplier.code: supplier.name for supplier in season.suppliers}
    names |= {draft.supplier.code: draft.supplier.name for draft in drafts}
    for supplier, material, length in {**old, **new}:
        key = supplier, material, length
        before, after = old.get(key, _Sum()), new.get(key, _Sum())
        money, quantity = after.money - before.money, after.quantity - before.quantity
        if not money and not quantity:
            continue
        more = money > 0 or (not money and quantity > 0)
        due = after.need_by and after.need_by + timedelta(days=after.late_days)
        yield Row(
            kind=Kind.MORE if more else Kind.DRAFT,
            material=material,
            length=length,
            # A dearer price can make fewer pieces cost more; the sign says so.
            quantity=quantity if more else -quantity,
            money=abs(money),
            supplier=names[supplier],
            order="" if more else before.order,
            need_by=after.need_by if more else None,
            day=due if more else None,
            late_days=after.late_days if more else 0,
        )


def _of_drafts(drafts: list[PurchaseOrder]) -> dict[Key, _Sum]:
    sums: dict[Key, _Sum] = {}
    for draft in drafts:
        sums[draft.supplier.code, "", None] = one = sums.get((draft.supplier.code, "", None), _Sum())
        one.money, one.order = one.money + draft.delivery, draft.number
        for line in draft.lines.all():
            one = sums.setdefault((draft.supplier.code, line.material.code, line.length), _Sum())
            one.quantity += line.quantity
            one.money += line.line_total + (Decimal(0) if draft.tax_included else line.tax)
            one.order = draft.number
    return sums


def _of_orders(result: bridge.SeasonPlan) -> dict[Key, _Sum]:
    sums: dict[Key, _Sum] = {}
    for order in result.orders:
        sums[order.supplier, "", None] = _Sum(money=order.delivery)
        for line in order.lines:
            one = sums.setdefault((order.supplier, line.material, line.length), _Sum())
            one.quantity += line.quantity
            one.money += line.line_total + (Decimal(0) if order.tax_included else line.tax)
            one.need_by = min(filter(None, (one.need_by, line.need_by)))
            one.late_days = max(one.late_days, line.late_days)
    return sums


def freed_rows(
    *, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan, houses: Collection[int]
) -> Iterator[Row]:
    """What the houses hold now, on order and in the yard, and the plan does not use."""
    wanted: Counter[str] = Counter()
    for want in wanted_reservations(season, result):
        wanted[want.source] += want.quantity
    held = Reservation.objects.of(plan.organisation).filter(house__in=houses).order_by()
    by_line = dict(held.exclude(order_line=None).values_list("order_line").annotate(sum=Sum("quantity")))
    lines = PurchaseOrderLine.objects.filter(pk__in=by_line, order__state__in=PurchaseOrder.OPEN)
    for line in lines.select_related("order__supplier", "material").order_by("pk"):
        if (freed := min(by_line[line.pk] - wanted[line_name(line)], line.to_come)) > 0:
            percent = season.buyer.tax_percent if line.tax_percent is None else line.tax_percent
            sums = sums_of(line.order, [(freed, line.price_now, percent)])
            yield Row(
                kind=Kind.SENT,
                material=line.material.code,
                length=line.length,
                quantity=freed,
                money=sums.total - sums.delivery,
                supplier=line.order.supplier.name,
                order=line.order.number,
                line=line.pk,
                day=line.due_on,
            )
    by_lot = dict(held.exclude(lot=None).values_list("lot").annotate(sum=Sum("quantity")))
    for lot in Lot.objects.filter(pk__in=by_lot).select_related("material").order_by("pk"):
        if (freed := by_lot[lot.pk] - wanted[lot.reference]) > 0:
            money = round_money(freed * lot.unit_cost, plan.organisation.currency)
            yield Row(Kind.YARD, lot.material.code, lot.length, freed, money, lot=lot.pk)
