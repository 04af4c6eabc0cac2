"""An accepted plan holds what it uses for its houses, and has orders; a house is built by one accepted plan at a time.

All of a plan is held or nothing: where something is no longer free, the answer says row by row what, and who has it.
A plan that is only tried holds and orders nothing. Released, its drafts are cancelled; what went out stays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.incoming import line_name, order_of
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.reserving.services import lock_sources
from farmbuild.buying.services import OrderProblem, cancel_drafts, note_less_wanted, record_orders
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans import bridge
from farmbuild.plans.buying_twice import refuse_bought_twice
from farmbuild.plans.house_changes import freed_rows
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving.services import release_houses
from farmbuild.plans.reserving.wanted import WantedReservation, wanted_reservations
from farmbuild.plans.savings.agreed import refuse_small_orders
from farmbuild.plans.signals import houses_let_go, locking_common_stock, taking_common_stock
from farmbuild.sites.models import House
from farmbuild.stock.leave import leave_for_whoever
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.reserving.consuming import holders_in_words
from farmbuild.stock.reserving.services import NewReservation, ReservedPiece, reserve

#: A house that gets pieces back at the same moment is asked so many times.
TRIES = 5


@dataclass(frozen=True)
class Missing:
    """``missing`` of ``quantity`` can no longer be held; ``source`` is where the plan takes them from."""

    want: WantedReservation
    source: str
    missing: int
    holders: str


class NotReserved(ValidationError):
    """Nothing of the plan is held; ``rows`` say what is not free."""

    def __init__(self, rows: list[Missing]) -> None:
        super().__init__("Stock has changed since the plan was worked out, so nothing is held. Plan again.")
        self.rows = rows


def _lock_organisation(organisation: Organisation) -> Organisation:
    """Plans are accepted and released one after the other."""
    return Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)


@needs(Act.ACCEPT)
@transaction.atomic
def accept_plan(*, organisation: Organisation, user: User, plan: Plan) -> Plan:
    """Write the plan's orders, and hold all that it uses for its houses; what they held by other plans is let go first.
    Lines that went out and bring more than they need now get a note for the supplier.

    Raises NotReserved, or ValidationError when it is not worked out, holds already, or would buy again what went out
    for its houses meanwhile; nothing is changed then.
    """
    common = {lot.ref: lot for lot in bridge.season_of(plan).lots if lot.common} if plan.from_common else {}
    _lock_common(organisation, plan.houses.values_list("pk", flat=True), common)
    organisation = _lock_organisation(organisation)
    current = Plan.objects.of(organisation).defer("inputs", "result").get(pk=plan.pk)
    if current.state != Plan.State.READY:
        raise ValidationError(gettext("Only a plan that is worked out can be accepted."))
    if current.is_accepted:
        raise ValidationError(
            gettext("Plan %(current_number)s is accepted already.") % {"current_number": current.number}
        )
    refuse_small_orders(current)
    houses = {house.slug: house for house in current.houses.select_related("site")}
    if gone := [house.name for house in houses.values() if house.archived_at or house.site.archived_at]:
        raise ValidationError(
            gettext("%(gone)s is archived. Plan again without it, and accept that plan.")
            % {"gone": ", ".join(sorted(gone))}
        )
    season, result = current.snapshot()
    _record_orders(current, season, result)
    sources = _Sources(organisation, current)
    # Everything is locked before the houses let go, and seen again afterwards.
    keys = [house.pk for house in houses.values()]
    sources.count(houses=keys)
    # Seen with the orders locked: nobody sends one of them now.
    refuse_bought_twice(plan=current, season=season, result=result)
    freed = list(freed_rows(plan=current, season=season, result=result, houses=keys))
    reason = f"plan {current.number} was accepted instead"
    let_go = _release_houses(houses=houses.values(), user=user, reason=reason, accepting=current)
    sources.count()
    wanted, missing = [], []
    wants = wanted_reservations(season, result)
    fetched = [want for want in wants if want.source in common]
    for want in wants:
        if want.source in common:
            continue
        given, short = sources.reserve_from(want, houses)
        wanted += given
        missing += [short] if short else []
    if missing:
        raise NotReserved(missing)
    current.accepted_at, current.accepted_by, current.released_at = timezone.now(), user, None
    current.save(update_fields=["accepted_at", "accepted_by", "released_at"])
    PlanHouse.objects.filter(plan=current).update(accepted=True)
    reserve(organisation=organisation.pk, plan=current.pk, user=user.pk, wanted=wanted)
    if fetched:
        taking_common_stock.send(
            Plan, plan=current, user=user, lots=common, wanted=fetched, houses=houses, let_go=let_go
        )
    note_less_wanted(plan=current.pk, user=user, less={row.line: row.quantity for row in freed if row.line})
    return current


def _lock_common(organisation: Organisation, houses: Iterable[int], refs: Iterable[str] = ()) -> None:
    """Whoever hands out common stock holds its lot first, and then what the farm gets and holds."""
    locking_common_stock.send(Plan, organisation=organisation, refs=list(refs), houses=list(houses))


def _record_orders(plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> None:
    try:
        record_orders(
            organisation=plan.organisation,
            plan=plan.pk,
            plan_number=plan.number,
            delivery_site=plan.delivery_site,
            orders=result.orders,
            currency=season.buyer.currency,
        )
    except OrderProblem as error:
        raise ValidationError(str(error)) from error


@needs(Act.ACCEPT)
@transaction.atomic
def release_plan(*, organisation: Organisation, user: User, plan: Plan) -> Plan:
    """Everything that the plan holds is free again, and its drafts are cancelled.

    Raises ValidationError when it holds nothing.
    """
    _lock_common(organisation, _accepted(plan))
    organisation = _lock_organisation(organisation)
    current = Plan.objects.of(organisation).defer("inputs", "result").get(pk=plan.pk)
    if not current.is_accepted:
        raise ValidationError(gettext("Plan %(current_number)s holds nothing.") % {"current_number": current.number})
    reason = f"plan {current.number} was released"
    _release_houses(houses=House.objects.filter(pk__in=_accepted(current)), user=user, reason=reason)
    current.refresh_from_db(fields=["released_at"])
    return current


@needs(Act.ACCEPT)
@transaction.atomic
def release_house(*, organisation: Organisation, user: User, house: House) -> Plan:
    """What the house holds is free again, and it is in no accepted plan; gives the plan that it was in.

    Raises ValidationError when it holds nothing.
    """
    _lock_common(organisation, [house.pk])
    organisation = _lock_organisation(organisation)
    row = PlanHouse.objects.filter(house=house, house__organisation=organisation, accepted=True).first()
    if row is None:
        raise ValidationError(
            gettext("%(house_name)s is in no accepted plan, so it holds nothing.") % {"house_name": house.name}
        )
    _release_houses(houses=[house], user=user, reason=f"{house.name}, the last house of its plan, was released")
    return Plan.objects.defer("inputs", "result").get(pk=row.plan_id)


def _accepted(plan: Plan) -> list[int]:
    return list(PlanHouse.objects.filter(plan=plan, accepted=True).values_list("house", flat=True))


def _release_houses(*, houses: Iterable[House], user: User, reason: str, accepting: Plan | None = None) -> Counter[int]:
    """Houses leave the accepted plans that they are in; a plan without houses left is released. Gives what was kept of
    common stock for them, as ``houses_let_go`` tells it.

    ``reason``: what its cancelled drafts say. ``accepting``: the plan that takes the houses over keeps its drafts.
    """
    by_plan: dict[int, list[int]] = {}
    for plan, house in PlanHouse.objects.filter(house__in=list(houses), accepted=True).values_list("plan", "house"):
        by_plan.setdefault(plan, []).append(house)
    # Orders are locked before the lots and lines that houses let go; some of the lines are of earlier plans' drafts.
    leaving = [house for some in by_plan.values() for house in some]
    held = Reservation.objects.filter(house__in=leaving, order_line__isnull=False)
    drafts = PurchaseOrder.objects.filter(
        Q(plan__in=by_plan) | Q(pk__in=held.values("order_line__order")), state=PurchaseOrder.State.DRAFT
    )
    locked = drafts.select_for_update(of=("self",), no_key=True).order_by("pk")
    concerned = {plan for plan in locked.values_list("plan", flat=True) if plan} - {accepting and accepting.pk}
    let_go: Counter[int] = Counter()
    for plan in Plan.objects.filter(pk__in=by_plan).defer("inputs", "result").order_by("pk"):
        _release_from_plan(plan, by_plan[plan.pk])
        for _, kept in houses_let_go.send(Plan, plan=plan, houses=by_plan[plan.pk], user=user):
            let_go.update(kept)
        if not _accepted(plan):
            Plan.objects.filter(pk=plan.pk).update(released_at=timezone.now())
    for plan in Plan.objects.filter(pk__in=concerned).exclude(released_at=None).select_related("organisation"):
        cancel_drafts(organisation=plan.organisation, user=user, plan=plan.pk, reason=reason)
    return let_go


def _release_from_plan(plan: Plan, houses: Collection[int]) -> None:
    """Pieces that come back are held again, perhaps just now; the database sees it, and what came is let go too."""
    for _ in range(TRIES):
        try:
            with transaction.atomic():
                release_houses(plan=plan, houses=houses)
                PlanHouse.objects.filter(plan=plan, house__in=houses).update(accepted=False)
        except IntegrityError:
            continue
        return
    raise ValidationError(
        gettext("Stock of these houses is being moved at this moment, so nothing was changed. Try again.")
    )


class _Sources:
    """What the plan may draw on: lots and order lines that it names, its own orders, and what came on these lines."""

    def __init__(self, organisation: Organisation, plan: Plan) -> None:
        self.organisation, self.plan = organisation, plan
        self.season_lots = {lot.ref: lot.available_from for lot in bridge.season_of(plan).lots}
        coming = {order_of(ref) for ref, day in self.season_lots.items() if day}
        building = PlanHouse.objects.filter(house__in=plan.houses.order_by(), accepted=True).exclude(plan=plan)
        let_go = Q(plan__in=building.values("plan"), state=PurchaseOrder.State.DRAFT)
        orders = PurchaseOrder.objects.of(organisation).filter(Q(plan=plan) | Q(number__in=coming) | let_go)
        # Orders first, so that nobody cancels or receives them meanwhile.
        rows = orders.select_for_update(of=("self",), no_key=True).order_by("pk")
        self.orders = [pk for pk, state in rows.values_list("pk", "state") if state != PurchaseOrder.State.CANCELLED]

    def count(self, houses: Collection[int] = ()) -> None:
        """Lock everything, with what ``houses`` hold now, and see what is free of it."""
        lines = PurchaseOrderLine.objects.filter(order__in=self.orders)
        lines = lines.exclude(order__state=PurchaseOrder.State.CANCELLED)
        rows = list(lines.select_related("order", "material").order_by("need_by", "order_id", "position"))
        self.named = {line_name(line): line.pk for line in rows}
        #: Lines of drafts may have changed since: a name counts only for what it named.
        self.things = {line.pk: (line.material.code, line.length) for line in rows}
        #: Lines of the plan's own orders by what they bring, the first needed first.
        self.own: dict[tuple[str, object], list[int]] = {}
        for line in rows:
            if line.order.plan_id == self.plan.pk:
                self.own.setdefault((line.material.code, line.length), []).append(line.pk)
        came: dict[int, list[int]] = {}
        arrived = Lot.objects.of(self.organisation).filter(receipt_lines__order_line__in=[line.pk for line in rows])
        for line, lot in arrived.order_by("pk").values_list("receipt_lines__order_line", "pk").distinct():
            came.setdefault(line, []).append(lot)
        self.came = came
        self.refs = dict(
            Lot.objects.of(self.organisation)
            .filter(reference__in=list(self.season_lots))
            .values_list("reference", "pk")
        )
        lots = {*self.refs.values(), *(lot for some in came.values() for lot in some)}
        held = list(Reservation.objects.filter(house__in=houses).order_by().values_list("lot", "order_line"))
        self.lots, self.lines = lock_sources(
            lots=lots | {lot for lot, _ in held if lot},
            lines={*self.named.values(), *(line for _, line in held if line)},
        )
        owned = [pk for pk, lot in self.lots.items() if lot.owner_id]
        by_leave = leave_for_whoever(organisation=self.organisation, lots=owned) if owned else {}
        self.free_lot = {
            pk: min(lot.free, by_leave.get(pk, 0) - lot.reserved) if lot.owner_id else lot.free
            for pk, lot in self.lots.items()
        }
        self.free_line = {pk: line.to_come - line.reserved for pk, line in self.lines.items()}

    def reserve_from(
        self, want: WantedReservation, houses: dict[str, House]
    ) -> tuple[list[NewReservation], Missing | None]:
        """Holds for what is wanted, and what is missing."""
        left, given = want.quantity, []
        places = self._places(want)
        for kind, key in places:
            free = self.free_lot if kind == "lot" else self.free_line
            taken = min(left, free.get(key, 0))
            if taken <= 0:
                continue
            free[key] -= taken
            left -= taken
            given.append(self._wanted(want, taken, houses, **{kind: key}))
        return given, self._missing(want, left, places) if left else None

    def _places(self, want: WantedReservation) -> list[tuple[str, int]]:
        if want.source and want.source not in self.named:
            return [("lot", self.refs[want.source])] if want.source in self.refs else []
        thing = (want.material, want.length)
        lines = [self.named[want.source]] if want.source else self.own.get(thing, [])
        lines = [line for line in lines if self.things[line] == thing]
        # What has come is nearer than what is to come.
        came = [("lot", lot) for line in lines for lot in self.came.get(line, [])]
        return came + [("line", line) for line in lines]

    def _wanted(self, want: WantedReservation, quantity: int, houses: dict[str, House], **where: int) -> NewReservation:
        pieces = tuple(
            ReservedPiece(houses[piece.house].pk, piece.purpose, piece.length, piece.each) for piece in want.pieces
        )
        return NewReservation(quantity, houses[want.house].pk, want.purpose, want.need_by, pieces=pieces, **where)

    def _missing(self, want: WantedReservation, missing: int, places: Collection[tuple[str, int]]) -> Missing:
        lots = [key for kind, key in places if kind == "lot"]
        lines = [key for kind, key in places if kind == "line"]
        held = Reservation.objects.filter(lot__in=lots) | Reservation.objects.filter(order_line__in=lines)
        return Missing(want, want.source or "the plan's own orders", missing, holders_in_words(held))


def accepted_houses(*, plan: Plan) -> QuerySet[House]:
    """Houses that the plan holds for."""
    return House.objects.filter(pk__in=PlanHouse.objects.filter(plan=plan, accepted=True).values("house"))


def house_plan(*, house: House) -> Plan | None:
    """The accepted plan that builds the house, without its snapshots."""
    rows = Plan.objects.defer("inputs", "result")
    return rows.filter(pk__in=PlanHouse.objects.filter(house=house, accepted=True).values("plan")).first()
