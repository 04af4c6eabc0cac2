"""Reads of counts: how far they are, what is still to count, and where the books differ."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import (
    Case,
    Count,
    DecimalField,
    ExpressionWrapper,
    F,
    IntegerField,
    Max,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Abs, Coalesce

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.bridge import round_money
from farmbuild.stock.ledger_selectors import lot_history
from farmbuild.stock.models import (
    CountDraft,
    CountEntry,
    CountFind,
    CountLine,
    CountPlace,
    Lot,
    Movement,
    Place,
    StockCount,
)

#: How someone walks along a rack: one material after the other, the longest first.
WALK = ("lot__material__name", "lot__material__code", "-lot__length", "lot__reference")


def counts_of(*, organisation: Organisation) -> QuerySet[StockCount]:
    return StockCount.objects.of(organisation).select_related("started_by", "ended_by")


def open_counts_of(*, organisation: Organisation) -> QuerySet[StockCount]:
    """The newest first."""
    return counts_of(organisation=organisation).filter(state=StockCount.State.OPEN).order_by("-number")


def count_places_of(*, count: StockCount) -> QuerySet[CountPlace]:
    """In the order of the walk, with place and site."""
    return count.places.select_related("place__site")


def drafts_of(*, organisation: Organisation, user: User, number: int) -> QuerySet[CountDraft]:
    """What the user read from sheets of the count with that number and has not stored yet, with the count."""
    rows = CountDraft.objects.of(organisation).filter(user=user, count__number=number)
    return rows.select_related("count")


def count_rows(*, organisation: Organisation) -> QuerySet[StockCount]:
    """For the list: each with ``line_count`` and ``counted_count``, looked up for the rows of a page alone."""
    lines = CountLine.objects.filter(count=OuterRef("pk")).order_by().values("count").annotate(n=Count("pk"))
    return counts_of(organisation=organisation).annotate(
        line_count=Coalesce(Subquery(lines.values("n")), 0),
        counted_count=Coalesce(Subquery(lines.filter(counted__isnull=False).values("n")), 0),
    )


def places_free_to_count(*, organisation: Organisation) -> QuerySet[Place]:
    """Places that no open count holds, each with ``lot_count``: lots that lie there now."""
    held = CountPlace.objects.filter(open=True, count__organisation=organisation).values("place")
    return (
        Place.objects.of(organisation)
        .exclude(pk__in=held)
        .select_related("site")
        .annotate(lot_count=Count("lots", filter=Q(lots__on_hand__gt=0)))
        .order_by("site__name", "name")
    )


@dataclass(frozen=True)
class PlaceProgress:
    """How far a place of a count is."""

    count: StockCount
    place: Place
    line_count: int = 0
    counted_count: int = 0
    again_count: int = 0

    @property
    def left(self) -> int:
        return self.line_count - self.counted_count + self.again_count


def places_of_count(*, count: StockCount) -> list[PlaceProgress]:
    """In the order they are walked, by two queries."""
    lines = CountLine.objects.filter(count=count).order_by().values("place")
    lines = lines.annotate(all=Count("pk"), done=Count("counted"), again_count=Count("pk", filter=Q(again=True)))
    sums = {place: found for place, *found in lines.values_list("place", "all", "done", "again_count")}
    rows = count_places_of(count=count)
    return [PlaceProgress(count, row.place, *sums.get(row.place_id, ())) for row in rows]


def next_place(*, count: StockCount, after: Place) -> Place | None:
    """The next one in the walk with something left, starting over at the end."""
    places = places_of_count(count=count)
    at = next(at for at, one in enumerate(places) if one.place == after)
    return next((one.place for one in [*places[at + 1 :], *places[:at]] if one.left), None)


@dataclass(frozen=True)
class SheetTotals:
    """Lots on the sheets, those counted, and those to be counted again."""

    lots: int
    counted: int
    again: int

    @property
    def uncounted(self) -> int:
        return self.lots - self.counted

    @property
    def left(self) -> int:
        return self.uncounted + self.again


def sheet_totals(*, count: StockCount, place: Place | None = None) -> SheetTotals:
    """Of the whole count, or of one place; one query."""
    lines = CountLine.objects.filter(count=count)
    lines = lines.filter(place=place) if place else lines
    return SheetTotals(
        **lines.aggregate(lots=Count("pk"), counted=Count("counted"), again=Count("pk", filter=Q(again=True)))
    )


def lines_of(*, count: StockCount, place: Place | None = None) -> QuerySet[CountLine]:
    """With the lot, its material and who counted; in the order of the walk. ``place``: of that one alone."""
    lines = CountLine.objects.filter(count=count)
    lines = lines.filter(place=place) if place else lines
    return lines.select_related("count", "lot__material", "place__site", "counted_by").order_by(*WALK)


def page_left(*, count: StockCount, place: Place, rows: int) -> int:
    """The page, of so many ``rows``, with the first lot that is left to count; 1 where none is."""
    lines = lines_of(count=count, place=place).values_list("counted", "again")
    left = (at for at, (counted, again) in enumerate(lines) if counted is None or again)
    return next(left, 0) // rows + 1


def sheet_of_lots(*, count: StockCount, place: Place, lots: Collection[int]) -> tuple[list[CountLine], list[Lot]]:
    """Of these lots, lines of the sheet and those that came in since; wherever they stand on it by now."""
    lines = lines_of(count=count, place=place).filter(lot__in=lots)
    return list(lines), list(lots_added_since(count=count, place=place).filter(pk__in=lots))


def lines_by_place(*, count: StockCount) -> list[tuple[Place, list[CountLine]]]:
    """Every place of the count in the order of the walk, two queries."""
    places = list(count_places_of(count=count))
    found: dict[int, list[CountLine]] = {one.place_id: [] for one in places}
    for line in lines_of(count=count):
        found[line.place_id].append(line)
    return [(one.place, found[one.place_id]) for one in places]


def entries_of(*, line: CountLine) -> QuerySet[CountEntry]:
    return line.entries.select_related("by")


def moves_since(*, line: CountLine) -> QuerySet[Movement]:
    """Movements of its lot since it was counted, newest first; none of a lot that was not."""
    rows = lot_history(organisation=line.lot.organisation, lot=line.lot)
    return rows.none() if line.upto is None else rows.filter(pk__gt=line.upto)


def lots_added_since(*, count: StockCount, place: Place | None = None) -> QuerySet[Lot]:
    """Lots that lie in counted places and are on no sheet, because they came after the start."""
    places = [place.pk] if place else count.places.values("place")
    lots = Lot.objects.of(count.organisation).filter(place__in=places, on_hand__gt=0)
    on_a_sheet = CountLine.objects.filter(count=count).values("lot")
    return lots.exclude(pk__in=on_a_sheet).select_related("material", "place").order_by("material__name", "reference")


def finds_of(*, count: StockCount, place: Place | None = None) -> QuerySet[CountFind]:
    rows = count.finds.select_related("place", "material", "by", "lot")
    return rows.filter(place=place) if place else rows


def with_difference(lines: QuerySet[CountLine]) -> QuerySet[CountLine]:
    """Each with ``difference``, pieces, and ``value``, money; None where nothing was counted.

    Of an open count: counted, less what the books said at the counting, less what put the books right since. Books
    are put right by another count, or by reversing a movement from before the counting; every other movement since
    moved real pieces and is kept. Of a posted count: as posted.
    """
    righted = (
        Movement.objects.filter(lot=OuterRef("lot"), pk__gt=OuterRef("upto"))
        .filter(Q(kind=Movement.Kind.COUNT) | Q(reverses_id__lte=OuterRef("upto")))
        .order_by()
        .values("lot")
        .annotate(sum=Sum("quantity"))
        .values("sum")
    )
    now = F("counted") - F("expected") - Coalesce(Subquery(righted), Value(0))
    posted = Case(
        When(movement__isnull=False, then=F("movement__quantity")),
        When(counted__isnull=False, then=Value(0)),
        default=None,
        output_field=IntegerField(),
    )
    money = DecimalField(max_digits=30, decimal_places=4)
    return lines.annotate(
        difference=Case(
            When(count__state=StockCount.State.POSTED, then=posted), default=now, output_field=IntegerField()
        ),
    ).annotate(
        value=Case(
            When(count__state=StockCount.State.POSTED, then=F("worth")),
            default=ExpressionWrapper(F("difference") * F("lot__unit_cost"), output_field=money),
            output_field=money,
        )
    )


def differences_of(*, count: StockCount) -> QuerySet[CountLine]:
    """Counted lines on which the books are wrong, the most money first; with ``left`` and ``held_short``.

    ``left`` is what the lot would hold; ``held_short`` how many of the pieces that houses hold would not be there.
    """
    rows = with_difference(lines_of(count=count).filter(counted__isnull=False)).exclude(difference=0)
    return rows.annotate(
        left=F("lot__on_hand") + F("difference"), held_short=F("lot__reserved") - F("lot__on_hand") - F("difference")
    ).order_by(Abs("value").desc(), Abs("difference").desc(), "pk")


def held_short_of(*, count: StockCount) -> QuerySet[CountLine]:
    """Differences that would leave less than houses hold."""
    return differences_of(count=count).filter(held_short__gt=0)


@dataclass(frozen=True)
class Sums:
    """Of the differences: lots and money that are more, and less, than the books say. ``less`` is below zero."""

    lots: int = 0
    more: Decimal = Decimal(0)
    less: Decimal = Decimal(0)

    @property
    def short(self) -> Decimal:
        """How much less, as a number above zero."""
        return -self.less

    @property
    def net(self) -> Decimal:
        return self.more + self.less


def sums_of(*, count: StockCount, finds: Iterable[CountFind]) -> Sums:
    """Rounded at the line, then summed; with what was found."""
    currency = count.organisation.currency
    values = [value or Decimal(0) for value in differences_of(count=count).order_by().values_list("value", flat=True)]
    rounded = [round_money(value, currency) for value in values]
    found = [round_money(worth_of(find), currency) for find in finds if not find.taken_back]
    return Sums(
        lots=len(values),
        more=sum((value for value in (*rounded, *found) if value > 0), Decimal(0)),
        less=sum((value for value in rounded if value < 0), Decimal(0)),
    )


def worth_of(find: CountFind) -> Decimal:
    return find.quantity * find.unit_cost


def large_differences(*, count: StockCount, limit: Decimal) -> list[int]:
    """Keys of lines counted once whose difference is worth at least ``limit``."""
    rows = differences_of(count=count).filter(times=1, again=False).order_by()
    return [pk for pk, value in rows.values_list("pk", "value") if abs(value) >= limit]


def progress_of(*, count: StockCount) -> str:
    """Changes whenever something is entered, found or taken back."""
    entry = CountEntry.objects.filter(line__count=count).aggregate(last=Max("pk"))["last"] or 0
    finds = count.finds.aggregate(last=Max("pk"), back=Count("pk", filter=Q(taken_back=True)))
    return f"{entry}-{finds['last'] or 0}-{finds['back']}"


def usual_cost(*, organisation: Organisation, material: Material, length: Decimal | None) -> Decimal:
    """What one such piece cost in the newest lot of them, else by its length in the newest lot; nothing without one."""
    lots = Lot.objects.of(organisation).filter(material=material, unit_cost__gt=0).order_by("-received_on", "-pk")
    if same := lots.filter(length=length).first():
        return same.unit_cost
    newest = lots.filter(length__isnull=False).first() if length is not None else None
    return (newest.unit_cost * length / newest.length).quantize(Decimal("0.0001")) if newest else Decimal(0)


def open_line_of(*, lot: Lot) -> CountLine | None:
    """Its line in a count that is open, if there is one."""
    lines = CountLine.objects.filter(lot=lot, count__state=StockCount.State.OPEN).select_related("count")
    return lines.order_by("-pk").first()
