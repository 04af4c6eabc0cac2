"""A house that waits for something takes what another house holds, and gives it its own place in the order.

Nothing is lost by a swap: pieces in the yard go to the one and the pieces that are on their way to the other. What it
means for both is worked out before anybody says yes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.buying.reserving.services import lock_reserved
from farmbuild.catalogue.selectors import offers_of
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.consuming import reduce_reservation
from farmbuild.stock.reserving.selectors import reservations_of
from farmbuild.stock.reserving.services import NewReservation, pieces_of, reserve


def ready_on(row: Reservation) -> date | None:
    """The day on which it is there; None: it is there now."""
    return None if row.order_line is None else row.order_line.due_on


def days_late(day: date | None, need_by: date) -> int:
    return 0 if day is None else max(0, (day - need_by).days)


def sooner_reservations(*, organisation: Organisation, waiting: Reservation) -> list[Reservation]:
    """What other houses hold of the same thing and have sooner: those that need it last come first."""
    line = waiting.order_line
    if line is None:
        return []
    same = reservations_of(organisation=organisation).exclude(house=waiting.house_id)
    rows = [
        *same.filter(lot__material=line.material_id, lot__length=line.length),
        *same.filter(order_line__material=line.material_id, order_line__length=line.length),
    ]
    # An offcut has lost its swage; only what is cut anyway may come from one.
    whole = not waiting.pieces.all()
    mine = ready_on(waiting)
    fit = [
        row
        for row in rows
        if not (whole and row.lot and row.lot.offcut) and (ready_on(row) or date.min) < (mine or date.min)
    ]
    return sorted(fit, key=lambda row: (-row.need_by.toordinal(), row.pk))


@dataclass(frozen=True)
class Buying:
    """How the pieces could be had in time all the same. ``supplier`` "": nobody offers them.

    ``order_by``: the last day on which the offer with the shortest delivery still comes in time; past days are
    ``overdue``, and ordered today it is there on ``earliest``.
    """

    supplier: str
    order_by: date | None
    overdue: bool
    earliest: date | None


@dataclass(frozen=True)
class Side:
    """What the swap is for one house: when it has the pieces now and then (None: they are in the yard)."""

    house: str
    others: tuple[str, ...]
    purpose: str
    need_by: date
    before: date | None
    after: date | None
    buying: Buying | None

    @property
    def late_before(self) -> int:
        return days_late(self.before, self.need_by)

    @property
    def late_after(self) -> int:
        return days_late(self.after, self.need_by)


@dataclass(frozen=True)
class Effect:
    """``seen`` names what it was worked out from; a swap of anything else is refused."""

    quantity: int
    taker: Side
    giver: Side
    seen: str


def max_quantity(waiting: Reservation, held: Reservation) -> int:
    return min(waiting.quantity, held.quantity)


def _fingerprint(waiting: Reservation, held: Reservation) -> str:
    parts = [
        (row.pk, row.quantity, row.lot_id, row.order_line_id, row.house_id, ready_on(row)) for row in (waiting, held)
    ]
    return "/".join(str(value) for part in parts for value in part)


def effect_of(
    *, organisation: Organisation, waiting: Reservation, held: Reservation, quantity: int, today: date
) -> Effect:
    """What swapping ``quantity`` pieces does to both. Raises ValidationError by field when it cannot be done."""
    if not 1 <= quantity <= max_quantity(waiting, held):
        raise ValidationError(
            {
                "quantity": gettext("Type a whole number from 1 to %(waiting)s.")
                % {"waiting": format_count(max_quantity(waiting, held))}
            }
        )
    if held.pk not in {row.pk for row in sooner_reservations(organisation=organisation, waiting=waiting)}:
        raise ValidationError(gettext("What was to be swapped is held otherwise now. Choose again."))
    mine, theirs = ready_on(waiting), ready_on(held)
    return Effect(
        quantity,
        _side(waiting, mine, theirs, today),
        _side(held, theirs, mine, today),
        _fingerprint(waiting, held),
    )


def _side(row: Reservation, before: date | None, after: date | None, today: date) -> Side:
    others = sorted({piece.house.name for piece in row.pieces.all() if piece.house_id != row.house_id})
    buying = _buying(row, today) if days_late(after, row.need_by) else None
    return Side(row.house.name, tuple(others), row.purpose, row.need_by, before, after, buying)


def _buying(row: Reservation, today: date) -> Buying:
    thing = row.lot or row.order_line
    offers = offers_of(organisation=row.organisation).filter(material=thing.material_id, length=thing.length)
    valid = [offer for offer in offers if offer.valid_until is None or offer.valid_until >= today]
    if not valid:
        return Buying("", None, overdue=False, earliest=None)
    said = [offer for offer in valid if offer.lead_days is not None]
    if not said:
        return Buying(min(offer.supplier.name for offer in valid), today, overdue=False, earliest=None)
    first = min(said, key=lambda offer: (offer.lead_days, offer.supplier.name))
    lead = timedelta(days=first.lead_days)
    order_by = row.need_by - lead
    return Buying(first.supplier.name, order_by, overdue=order_by < today, earliest=today + lead)


@needs(Act.PLAN)
@transaction.atomic
def swap(
    *, organisation: Organisation, user: User, waiting: int, held: int, quantity: int, seen: str, today: date
) -> Effect:
    """Post the swap that was shown, by the keys of the two holds.

    Raises ValidationError where anything changed since; nothing is swapped then.
    """
    both = Reservation.objects.of(organisation).filter(pk__in=[waiting, held])
    lock_reserved(both)
    rows = {row.pk: row for row in reservations_of(organisation=organisation).filter(pk__in=[waiting, held])}
    if len(rows) != 2 or _fingerprint(rows[waiting], rows[held]) != seen:
        raise ValidationError(
            gettext(
                "Someone changed one of these holds while this page was open, so nothing was swapped. Choose again."
            )
        )
    effect = effect_of(
        organisation=organisation, waiting=rows[waiting], held=rows[held], quantity=quantity, today=today
    )
    fresh = {row.pk: row for row in both.prefetch_related("pieces")}
    mine, theirs = fresh[waiting], fresh[held]
    new = [(mine.plan_id, _moved(mine, theirs, quantity)), (theirs.plan_id, _moved(theirs, mine, quantity))]
    for row in (mine, theirs):
        reduce_reservation(row, quantity)
    for plan, wanted in new:
        reserve(organisation=organisation.pk, plan=plan, user=user.pk, wanted=[wanted])
    return effect


def _moved(row: Reservation, to: Reservation, quantity: int) -> NewReservation:
    """The hold of ``row``, on what ``to`` held."""
    return NewReservation(
        quantity,
        row.house_id,
        row.purpose,
        row.need_by,
        lot=to.lot_id,
        line=to.order_line_id,
        pieces=pieces_of(row),
    )
