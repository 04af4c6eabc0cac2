"""What stock cost whom, for rooms above: by house and material, general expense, and the books that must add up.

Amounts are in whole coins of the organisation's currency and are those that movements froze: no later price changes
them. Each function asks one query, ``stock_books`` five, however much there is.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.expressions import ExpressionWrapper
from django.db.models.functions import Coalesce

from farmbuild.common.fields import ThousandthsField
from farmbuild.orgs.models import Organisation
from farmbuild.stock.models import CostShare, Cut, Lot, Movement, Repricing

_NOTHING = Decimal(0)
#: Shares that a house bears, or a job as a whole.
SOMEBODY = Q(house__isnull=False) | Q(job__isnull=False)


@dataclass(frozen=True)
class MaterialCost:
    """Equal pieces that one house used, or a job as a whole, less what it gave back.

    ``length``: mm, None for counted things. ``quantity`` has parts of a piece where houses share sticks of a hoop
    batch. ``estimated``: some of it is from before amounts were kept, and goes by what a piece cost later.
    """

    house: int | None
    job: int | None
    code: str
    name: str
    length: Decimal | None
    quantity: Decimal
    amount: Decimal
    estimated: bool


def borne_by(houses: Collection[int], job: int | None) -> Q:
    """Rows of these houses, and those of a job as a whole."""
    return Q(house__in=houses) | Q(job=job) if job else Q(house__in=houses)


def material_cost_of(
    *, organisation: Organisation, houses: Collection[int] | None, job: int | None = None
) -> list[MaterialCost]:
    """By house, job, material and length, in this order; ``houses`` None: of all houses and jobs."""
    lot = "movement__lot"
    rows = (
        CostShare.objects.filter(movement__lot__organisation=organisation)
        .filter(SOMEBODY if houses is None else borne_by(houses, job))
        .order_by("house", "job", f"{lot}__material__name", f"{lot}__material__code", f"{lot}__length")
        .values_list("house", "job", f"{lot}__material__code", f"{lot}__material__name", f"{lot}__length")
        .annotate(pieces=Sum("quantity"), coins=Sum("amount"), guessed=Count("pk", filter=Q(movement__estimated=True)))
    )
    return [MaterialCost(*row, guessed > 0) for *row, guessed in rows if row[5] or row[6]]


@dataclass(frozen=True)
class GeneralExpense:
    """What no house bears, by the kind of movement that it came from: ``amount`` above zero costs."""

    kind: Movement.Kind
    amount: Decimal

    @property
    def reason(self) -> str:
        return _REASONS[self.kind]


_REASONS = {
    Movement.Kind.COUNT: "Differences found by counting",
    Movement.Kind.SCRAP: "Scrapped, for no house",
    Movement.Kind.ISSUE: "Issued, for no house",
    Movement.Kind.RETURN: "Returned, from no house",
}


def general_expense_of(*, organisation: Organisation) -> list[GeneralExpense]:
    """What stock cost nobody by name."""
    rows = (
        CostShare.objects.filter(~SOMEBODY, movement__lot__organisation=organisation)
        .order_by("movement__kind")
        .values_list("movement__kind")
        .annotate(coins=Sum("amount"))
    )
    return [GeneralExpense(Movement.Kind(kind), coins) for kind, coins in rows]


@dataclass(frozen=True)
class StockBooks:
    """Sums over everything: what came in and was repriced lies there, is lent, or was borne by somebody.

    ``members``: what pieces cost that were handed out to members of a cooperative.
    """

    came_in: Decimal
    repriced: Decimal
    on_hand: Decimal
    lent: Decimal
    members: Decimal
    houses: Decimal
    jobs: Decimal
    general: Decimal

    @property
    def off(self) -> Decimal:
        """Zero, or the books are wrong."""
        somewhere = self.on_hand + self.lent + self.members + self.houses + self.jobs + self.general
        return self.came_in + self.repriced - somewhere


def stock_books(*, organisation: Organisation) -> StockBooks:
    """``came_in``: received and first written down, less what of it was reversed; finds of a count are an expense."""
    moved = Movement.objects.filter(lot__organisation=organisation)
    borne = CostShare.objects.filter(movement__lot__organisation=organisation)
    opened = moved.filter(kind=Movement.Kind.COUNT).exclude(Exists(CostShare.objects.filter(movement=OuterRef("pk"))))
    sums = moved.aggregate(
        received=Sum("amount", filter=Q(kind=Movement.Kind.RECEIVE), default=_NOTHING),
        lent=Sum("amount", filter=Q(kind__in=[Movement.Kind.LEND, Movement.Kind.GIVEN_BACK]), default=_NOTHING),
        members=Sum("amount", filter=Q(kind=Movement.Kind.HANDED_OUT), default=_NOTHING),
    )
    shared = borne.aggregate(
        houses=Sum("amount", filter=Q(house__isnull=False), default=_NOTHING),
        jobs=Sum("amount", filter=Q(job__isnull=False), default=_NOTHING),
        general=Sum("amount", filter=~SOMEBODY, default=_NOTHING),
    )
    return StockBooks(
        came_in=sums["received"] + _sum(opened, "amount"),
        repriced=_sum(Repricing.objects.filter(lot__organisation=organisation), "amount"),
        on_hand=_sum(Lot.objects.of(organisation), "value"),
        lent=-sums["lent"],
        members=-sums["members"],
        **shared,
    )


def _sum(rows: QuerySet, name: str) -> Decimal:
    total: Decimal = rows.aggregate(sum=Sum(name, default=_NOTHING))["sum"]
    return total


# What the recount asks; one query each, of every organisation.


def wrong_values() -> Iterator[Lot]:
    """Lots whose value is not the sum of their movements and repricings, with ``summed``."""
    output = ThousandthsField()

    def total(rows: QuerySet) -> Coalesce:
        mine = rows.filter(lot=OuterRef("pk")).order_by().values("lot").annotate(sum=Sum("amount")).values("sum")
        return Coalesce(Subquery(mine, output_field=output), _NOTHING, output_field=output)

    summed = ExpressionWrapper(total(Movement.objects.all()) + total(Repricing.objects.all()), output_field=output)
    wrong = Lot.objects.order_by("pk").annotate(summed=summed).exclude(value=F("summed"))
    yield from wrong.select_related("organisation").iterator(chunk_size=2000)


def unshared_movements() -> Iterator[Movement]:
    """Movements that somebody bears and whose shares do not add up to them."""
    output = ThousandthsField()
    kinds = (Movement.Kind.ISSUE, Movement.Kind.RETURN, Movement.Kind.SCRAP)
    wrong = (
        Movement.objects.order_by("pk")
        .annotate(parts=Count("shares"), coins=Sum("shares__amount", default=_NOTHING))
        .annotate(pieces=Sum("shares__quantity", default=_NOTHING))
        .filter(Q(kind__in=kinds) | Q(parts__gt=0))
        .exclude(
            coins=ExpressionWrapper(F("amount") * -1, output_field=output),
            pieces=ExpressionWrapper(F("quantity") * -1000, output_field=output),
        )
    )
    yield from wrong.select_related("lot__organisation").iterator(chunk_size=2000)


def unequal_worth() -> Iterator[Cut]:
    """Cuts whose pieces and offcuts are not worth together what was cut."""
    cut = Q(movements__kind=Movement.Kind.CUT)
    wrong = Cut.objects.order_by("pk").annotate(left=Sum("movements__amount", filter=cut, default=_NOTHING))
    yield from wrong.exclude(left=_NOTHING).select_related("lot").iterator(chunk_size=2000)
