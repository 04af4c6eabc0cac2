"""What fewer pieces on a line do to houses that hold it: other free pieces are held instead, the rest is released."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db.models import F, Q
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.reserving.services import lock_reserved, lock_sources
from farmbuild.common.speaking import said_count, said_list
from farmbuild.common.templatetags.farm import day
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.reserving.consuming import reduce_reservation
from farmbuild.stock.reserving.services import DetachedReservation
from farmbuild.stock.words import noun_of


class CoverChanges(ValidationError):
    """The change reaches houses and waits for a yes. ``effects`` are sentences; ``agreed`` is the yes to just these."""

    def __init__(self, effects: Sequence[str]) -> None:
        super().__init__(gettext("Houses hold what this changes. Read what it does to them, then save again."))
        self.effects = tuple(effects)
        self.agreed = sha256("\n".join(self.effects).encode()).hexdigest()


@dataclass
class _Source:
    """Free pieces that are just as good: of a lot, or of another line."""

    name: str
    free: int
    lot: int | None = None
    line: int | None = None
    due_on: date | None = None


@dataclass
class _Step:
    row: Reservation
    released: int
    moved: list[tuple[_Source, int]] = field(default_factory=list)


@dataclass
class Cover:
    """What happens to the holds of one line; nothing is done before ``carry_out``."""

    steps: list[_Step]
    effects: list[str]

    def carry_out(self) -> None:
        for step in self.steps:
            for source, count in step.moved:
                lifted = DetachedReservation.of(step.row, count)
                reduce_reservation(step.row, count)
                lifted.attach(lot=source.lot, line=source.line)
            if step.released:
                reduce_reservation(step.row, step.released)


def _for_whom(row: Reservation) -> str:
    return said_list(dict.fromkeys([row.house.name, *(piece.house.name for piece in row.pieces.all())]))


def look_at_cover(*, line: PurchaseOrderLine, quantity: int) -> Cover:
    """What ``quantity`` pieces on the line do, everything of it locked; the last needed are let go first."""
    held = Reservation.objects.filter(order_line=line)
    if line.reserved <= quantity:
        return Cover([], [])
    sources = _lock_sources(line)
    lock_reserved(held)
    line.refresh_from_db(fields=["reserved"])
    over, steps = line.reserved - quantity, []
    rows = held.select_related("house").prefetch_related("pieces__house").order_by("-need_by", "-pk")
    for row in rows:
        step = _Step(row, min(row.quantity, over))
        over -= step.released
        for source in sources:
            # As soon as the house needs it, or no later than it comes now.
            if source.due_on and source.due_on > max(row.need_by, line.due_on):
                continue
            if taken := min(source.free, step.released):
                source.free -= taken
                step.released -= taken
                step.moved.append((source, taken))
        if step.released or step.moved:
            steps.append(step)
    return Cover(steps, _effects(line, steps))


def _effects(line: PurchaseOrderLine, steps: Sequence[_Step]) -> list[str]:
    noun = noun_of(line.material, offcut=False)
    moved: list[str] = []
    short: dict[str, int] = {}
    for step in steps:
        who = _for_whom(step.row)
        for source, count in step.moved:
            moved.append(
                gettext("%(count)s for %(who)s are then held of %(source)s.")
                % {"count": said_count(count, noun), "who": who, "source": source.name}
            )
        if step.released:
            short[who] = short.get(who, 0) + step.released
    what = line.description
    return moved + [
        gettext("%(who)s is then short %(count)s of %(what)s.")
        % {"who": who, "count": said_count(count, noun), "what": what}
        for who, count in short.items()
    ]


def _lock_sources(line: PurchaseOrderLine) -> list[_Source]:
    """Other lines of the order first, then the yard, then what was ordered of others."""
    same = {"material": line.material_id, "length": line.length}
    lots = Lot.objects.filter(
        owner=None,
        organisation=line.order.organisation_id,
        offcut=False,
        on_hand__gt=F("reserved") + F("promised"),
        **same,
    )
    other = PurchaseOrderLine.objects.filter(
        Q(order=line.order_id) | Q(order__state__in=PurchaseOrder.OPEN),
        order__organisation=line.order.organisation_id,
        closed_at=None,
        **same,
    ).exclude(pk=line.pk)
    lot_keys, line_keys = list(lots.values_list("pk", flat=True)), list(other.values_list("pk", flat=True))
    # Read again once they are locked; names come with them.
    lock_sources(lots=lot_keys, lines=[*line_keys, line.pk])
    found_lots = Lot.objects.filter(pk__in=lot_keys).select_related("place").order_by("received_on", "pk")
    found_lines = other.filter(pk__in=line_keys).select_related("order").order_by("need_by", "order", "position")
    of_lines = [
        _Source(
            gettext("order %(number)s line %(position)s, due %(day)s")
            % {"number": row.order.number, "position": row.position, "day": day(row.due_on)},
            row.to_come - row.reserved,
            line=row.pk,
            due_on=row.due_on,
        )
        for row in found_lines
    ]
    own = [source for source, row in zip(of_lines, found_lines, strict=True) if row.order_id == line.order_id]
    rest = [source for source, row in zip(of_lines, found_lines, strict=True) if row.order_id != line.order_id]
    yard = [
        _Source(gettext("lot %(row)s at %(place)s") % {"row": row, "place": row.place}, row.free, lot=row.pk)
        for row in found_lots
    ]
    return [source for source in [*own, *yard, *rest] if source.free > 0]


def late_effects(*, line: PurchaseOrderLine, due_on: date) -> list[str]:
    """Houses for which a later day is too late, and was not before."""
    if due_on <= line.due_on:
        return []
    noun = noun_of(line.material, offcut=False)
    rows = Reservation.objects.filter(order_line=line, need_by__lt=due_on, need_by__gte=line.due_on)
    return [
        gettext("%(for_whom)s needs %(quantity)s of %(description)s by %(day)s; they come %(days)s later.")
        % {
            "for_whom": _for_whom(row),
            "quantity": said_count(row.quantity, noun),
            "description": line.description,
            "day": day(row.need_by),
            "days": said_count((due_on - row.need_by).days, "day"),
        }
        for row in rows.select_related("house").prefetch_related("pieces__house").order_by("need_by", "pk")
    ]


@dataclass
class Share:
    """Which holds of a line go over to a part of it."""

    effects: list[str]
    moved: list[tuple[Reservation, int]]

    def carry_out(self, part: PurchaseOrderLine) -> None:
        for row, count in self.moved:
            lifted = DetachedReservation.of(row, count)
            reduce_reservation(row, count)
            lifted.attach(line=part.pk)


def share_holds(*, line: PurchaseOrderLine, part: PurchaseOrderLine) -> Share:
    """Houses at the site of ``part`` hold it, the first needed first; then as many more as no longer fit the line."""
    held = Reservation.objects.filter(order_line=line)
    lock_reserved(held)
    line.refresh_from_db(fields=["reserved"])
    rows = list(held.select_related("house").prefetch_related("pieces__house").order_by("need_by", "pk"))
    there = [row for row in rows if row.house.site_id == part.deliver_to.pk]
    # Those who need it last wait for the later part, those who need it first for the sooner.
    others = [row for row in rows if row not in there]
    others.sort(key=lambda row: (row.need_by, row.pk), reverse=part.need_by >= line.need_by)
    room, over = part.quantity, line.reserved - (line.quantity - part.quantity)
    moved: list[tuple[Reservation, int]] = []
    for row in [*there, *others]:
        count = min(row.quantity, room, room if row in there else max(0, over))
        if count:
            moved.append((row, count))
            room, over = room - count, over - count
    noun = noun_of(line.material, offcut=False)
    effects = [
        gettext("%(for_whom)s needs %(count)s of %(description)s by %(day)s; they come %(days)s later.")
        % {
            "for_whom": _for_whom(row),
            "count": said_count(count, noun),
            "description": line.description,
            "day": day(row.need_by),
            "days": said_count((part.due_on - row.need_by).days, "day"),
        }
        for row, count in moved
        if part.due_on > max(row.need_by, line.due_on)
    ]
    return Share(effects, moved)
