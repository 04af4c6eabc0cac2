"""Writes of an open count: it is started, lots are entered, things are found, a second count is asked for.

An entry keeps what the books said at the moment of the counting, so pieces that move between the counting and the
posting are counted once. Locks: the count, then lot numbers, then lots by key.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, Q, Sum
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.catalogue.models import MAX_QUANTITY, Material, check_length, check_longest
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import check_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.counts.selectors import usual_cost
from farmbuild.stock.models import CountEntry, CountFind, CountLine, CountPlace, Lot, Movement, Place, StockCount
from farmbuild.stock.services import check_count, check_owner, lock_references

AT_ONCE = 500
Item = TypeVar("Item")


def chunks(rows: Sequence[Item]) -> Iterator[Sequence[Item]]:
    return (rows[start : start + AT_ONCE] for start in range(0, len(rows), AT_ONCE))


@needs(Act.STOCK)
@transaction.atomic
def start_count(
    *,
    organisation: Organisation,
    user: User | None,
    places: Collection[Place],
    blind: bool = False,
    look_again: Decimal = Decimal(0),
) -> StockCount:
    """An open count with a line for every lot that lies in the places. Raises ValidationError by field."""
    if not places:
        raise ValidationError({"places": gettext("Choose at least one place to count.")})
    for place in places:
        check_owner(organisation, places=place)
    # One starts at a time, so that numbers are given in turn and a place is in one open count.
    lock_references(organisation=organisation)
    taken = CountPlace.objects.filter(place__in=places, open=True).select_related("place", "count").first()
    if taken:
        raise ValidationError(
            {
                "places": gettext("%(place)s is being counted in count %(count_number)s. End that one first.")
                % {"place": taken.place, "count_number": taken.count.number}
            }
        )
    last = StockCount.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    count = StockCount(organisation=organisation, number=last + 1, blind=blind, look_again=look_again, started_by=user)
    count.full_clean(exclude=["organisation"])
    count.save()
    CountPlace.objects.bulk_create(CountPlace(count=count, place=place) for place in places)
    lots = Lot.objects.of(organisation).filter(place__in=places, on_hand__gt=0).values_list("pk", "place_id")
    CountLine.objects.bulk_create(
        [CountLine(count=count, lot_id=lot, place_id=place) for lot, place in lots], batch_size=AT_ONCE
    )
    return count


def lock_open_count(*, organisation: Organisation, count: StockCount) -> StockCount:
    """The count, locked until the transaction ends. Raises ValidationError when it has ended."""
    current = StockCount.objects.of(organisation).select_for_update(no_key=True).get(pk=count.pk)
    if not current.is_open:
        raise ValidationError(
            gettext("%(current)s is %(lower)s; nothing of it changes any more.")
            % {"current": current, "lower": current.get_state_display().lower()}
        )
    return current


@dataclass(frozen=True)
class Counted:
    """So many pieces of the lot with this key."""

    lot: int
    pieces: int


@needs(Act.STOCK)
@transaction.atomic
def record_counts(
    *,
    organisation: Organisation,
    user: User | None,
    count: StockCount,
    counted: Sequence[Counted],
    counted_at: datetime | None = None,
    source: str = CountEntry.Source.PAGE,
) -> int:
    """Write down what was counted, all of it or nothing; gives how many lots. The last entry of a lot stands.

    ``counted_at``: when it was counted, for what is copied from paper; None is now. Raises ValidationError.
    """
    current = lock_open_count(organisation=organisation, count=count)
    # To the minute, as it is typed.
    earliest = current.started_at.replace(second=0, microsecond=0)
    if counted_at is not None and not earliest <= counted_at <= timezone.now():
        started = timezone.localtime(earliest)
        raise ValidationError(
            {"counted_at": f"Type a time from {started:%Y-%m-%d %H:%M}, when {current} was started, up to now."}
        )
    if counted_at is not None:
        counted_at = max(counted_at, current.started_at)
    if len({row.lot for row in counted}) < len(counted):
        raise ValidationError(gettext("A lot stands there twice. Add its pieces up."))
    if any(not 0 <= row.pieces <= MAX_QUANTITY for row in counted):
        raise ValidationError(
            gettext("Type whole numbers from 0 to %(max_quantity)s.") % {"max_quantity": format_count(MAX_QUANTITY)}
        )
    for some in chunks(sorted(counted, key=lambda row: row.lot)):
        _record_counts(current, user, {row.lot: row.pieces for row in some}, counted_at, source)
    return len(counted)


def _record_counts(
    count: StockCount, user: User | None, pieces: dict[int, int], counted_at: datetime | None, source: str
) -> None:
    lots = Lot.objects.of(count.organisation).select_for_update(no_key=True).filter(pk__in=pieces).order_by("pk")
    there = {lot.pk: lot for lot in lots}
    lines = _lines(count, there, pieces)
    # Read under the locks of the lots, so that every movement is wholly before the counting or wholly after it.
    at = counted_at or timezone.now()
    books = _books(there, counted_at)
    entries = []
    for line in lines:
        line.counted, line.counted_at, line.counted_by = pieces[line.lot_id], at, user
        line.expected, line.upto = books[line.lot_id]
        line.times += 1
        line.again = False
        entries.append(
            CountEntry(
                line=line,
                counted=line.counted,
                expected=line.expected,
                upto=line.upto,
                counted_at=at,
                by=user,
                source=source,
            )
        )
    fields = ["counted", "counted_at", "counted_by", "expected", "upto", "times", "again"]
    store_lines(lines, fields)
    CountEntry.objects.bulk_create(entries)


def store_lines(lines: Sequence[CountLine], fields: list[str]) -> None:
    """Fields of stored lines, in one statement; a long CASE for each field would take many times as long."""
    rows = []
    for line in lines:
        row = copy(line)
        # Found again by what is theirs alone, so that the key is not inserted a second time.
        row.pk = None
        rows.append(row)
    CountLine.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["count", "lot"], update_fields=fields, batch_size=AT_ONCE
    )


def _lines(count: StockCount, lots: dict[int, Lot], pieces: dict[int, int]) -> list[CountLine]:
    """The lines of the lots; a lot that came into a counted place since the start gets one."""
    if len(lots) < len(pieces):
        raise ValidationError(gettext("A lot that was entered is not there any more. Open the page again."))
    lines = {line.lot_id: line for line in CountLine.objects.filter(count=count, lot__in=lots)}
    places = set(count.places.values_list("place_id", flat=True))
    new = [lot for pk, lot in lots.items() if pk not in lines]
    for lot in new:
        if lot.place_id not in places:
            raise ValidationError(
                gettext("Lot %(lot)s lies at %(place)s, which is not part of %(lower)s.")
                % {"lot": lot, "place": lot.place, "lower": str(count).lower()}
            )
    CountLine.objects.bulk_create(CountLine(count=count, lot=lot, place_id=lot.place_id) for lot in new)
    return list(CountLine.objects.filter(count=count, lot__in=lots).order_by("lot"))


def _books(lots: dict[int, Lot], counted_at: datetime | None) -> dict[int, tuple[int, int]]:
    """What the books said of each lot at that time, None for now, and its newest movement then."""
    before = Q() if counted_at is None else Q(at__lte=counted_at)
    found = (
        Movement.objects.filter(lot__in=lots)
        .order_by()
        .values("lot")
        .annotate(upto=Max("pk", filter=before), books=Sum("quantity", filter=before))
        .values_list("lot", "books", "upto")
    )
    return dict.fromkeys(lots, (0, 0)) | {lot: (books or 0, upto or 0) for lot, books, upto in found}


@needs(Act.STOCK)
@transaction.atomic
def record_find(
    *,
    organisation: Organisation,
    user: User | None,
    count: StockCount,
    place: Place,
    material: Material,
    quantity: int,
    length: Decimal | None = None,
    offcut: bool = False,
    unit_cost: Decimal | None = None,
    note: str = "",
) -> CountFind:
    """Pieces that lie there and are in no lot; without ``unit_cost`` they cost what such pieces cost last.

    Raises ValidationError by field.
    """
    current = lock_open_count(organisation=organisation, count=count)
    check_owner(organisation, place=place, material=material)
    check_count(quantity, field="quantity")
    check_length(material, length)
    check_longest(material, length)
    if not current.places.filter(place=place).exists():
        raise ValidationError(
            gettext("%(place)s is not part of %(lower)s.") % {"place": place, "lower": str(current).lower()}
        )
    if unit_cost is None:
        unit_cost = usual_cost(organisation=organisation, material=material, length=length)
    elif unit_cost:
        lock_references(organisation=organisation)
        check_currency(organisation=organisation)
    find = CountFind(
        count=current,
        place=place,
        material=material,
        length=length,
        offcut=offcut,
        quantity=quantity,
        unit_cost=unit_cost,
        note=note.strip(),
        by=user,
    )
    find.full_clean(exclude=["count", "place", "material", "by"])
    find.save()
    return find


@needs(Act.STOCK)
@transaction.atomic
def cancel_find(*, organisation: Organisation, user: User | None, find: CountFind) -> None:
    """It was written down by mistake; it stays to be seen and is not posted."""
    lock_open_count(organisation=organisation, count=find.count)
    CountFind.objects.filter(pk=find.pk, count__organisation=organisation).update(taken_back=True)


@needs(Act.STOCK)
@transaction.atomic
def request_recount(*, organisation: Organisation, user: User | None, count: StockCount, lines: Collection[int]) -> int:
    """These counted lines are to be counted a second time before the count is posted; gives how many."""
    current = lock_open_count(organisation=organisation, count=count)
    rows = CountLine.objects.filter(count=current, again=False, counted__isnull=False)
    return sum(rows.filter(pk__in=some).update(again=True) for some in chunks(sorted(lines)))


@needs(Act.STOCK)
@transaction.atomic
def withdraw_recount(*, organisation: Organisation, user: User | None, count: StockCount) -> int:
    """What was to be counted again stands as it is; gives how many lines."""
    current = lock_open_count(organisation=organisation, count=count)
    return CountLine.objects.filter(count=current, again=True).update(again=False)


@needs(Act.STOCK)
@transaction.atomic
def cancel_count(*, organisation: Organisation, user: User | None, count: StockCount) -> StockCount:
    """End the count without changing the books. What was written down stays to be read."""
    current = lock_open_count(organisation=organisation, count=count)
    finish_count(current, StockCount.State.DROPPED, user)
    return current


def finish_count(count: StockCount, state: StockCount.State, user: User | None) -> None:
    """In the caller's transaction, which holds the count; nothing of it can be changed afterwards."""
    CountPlace.objects.filter(count=count).update(open=False)
    count.state, count.ended_at, count.ended_by = state, timezone.now(), user
    count.save(update_fields=["state", "ended_at", "ended_by"])
