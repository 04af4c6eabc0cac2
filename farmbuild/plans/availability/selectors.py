"""What is there, what comes and what is taken of each thing, by a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext

from farmbuild.buying.incoming import incoming_lines, line_name
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of, offers_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.availability.bridge import Cause, Change, Outlook, Way, look_ahead
from farmbuild.plans.availability.covers import Cover, Key, after, draft_covers, sent_covers
from farmbuild.plans.balance import still_to_find
from farmbuild.plans.bridge import season_of, season_plan_of
from farmbuild.plans.models import Plan
from farmbuild.plans.reserving.wanted import wanted_reservations
from farmbuild.plans.selectors import accepted_slugs, plans_of
from farmbuild.stock.models import Reservation
from farmbuild.stock.selectors import USABLE, lots_of

#: What ``line_name`` and ``due_on`` read, and what is said of a line here.
_OF_LINE = (
    *("material", "length", "position", "promised_on", "need_by", "late_days"),
    *("order__number", "order__supplier__name", "delivery_site__name"),
)


@dataclass(frozen=True)
class Thing:
    """A material in one length, whole sticks only, and how its stock goes on from today.

    Offcuts are left out: nobody sells them and no more of them is held than lies there, so they never run short.
    ``covers``: where it runs short, drafts that wait to be sent, then what was sent and comes too late.
    """

    material: Material
    length: Decimal | None
    on_hand: int
    held: int
    incoming: int
    demand: int
    outlook: Outlook
    covers: tuple[Cover, ...] = ()

    @property
    def to_order(self) -> int:
        """Pieces that nothing covers, not even what was not sent."""
        drafts = sum(cover.quantity for cover in self.covers if not cover.sent)
        return max(0, -self.outlook.balance - drafts)


@dataclass
class _Facts:
    on_hand: dict[Key, int] = field(default_factory=lambda: defaultdict(int))
    changes: dict[Key, list[Change]] = field(default_factory=lambda: defaultdict(list))
    ways: dict[Key, list[Way]] = field(default_factory=lambda: defaultdict(list))
    drafts: dict[Key, list[Cover]] = field(default_factory=dict)
    sent: dict[Key, list[Cover]] = field(default_factory=dict)


def plans_to_count(*, organisation: Organisation) -> QuerySet[Plan]:
    """Plans that are worked out and hold nothing: what they need can be counted too."""
    ready = plans_of(organisation=organisation).filter(state=Plan.State.READY)
    return ready.filter(Q(accepted_at=None) | Q(released_at__isnull=False))


def things_of(
    *, organisation: Organisation, today: date, material: Material | None = None, plan: Plan | None = None
) -> list[Thing]:
    """Every thing in stock, held, on order or wanted, what runs short first coming first; of one material at least it.

    ``plan``: a worked out plan whose need is counted as if it were accepted.
    """
    facts = _Facts()
    found = [material] if material else list(materials_of(organisation=organisation))
    materials = {row.pk: row for row in found}
    only = material and [material.pk]
    lots = lots_of(organisation=organisation).select_related(None).filter(offcut=False, on_hand__gt=0).order_by()
    if only:
        lots = lots.filter(material__in=only)
    for pk, length, pieces in lots.values_list("material_id", "length").annotate(sum=Sum(USABLE)):
        facts.on_hand[pk, length] = pieces
    lines = _incoming(organisation, only)
    facts.drafts, facts.sent = draft_covers(organisation=organisation, only=only), sent_covers(lines)
    for key, change in _changes(organisation, materials, only, plan, lines):
        facts.changes[key].append(change)
    offers = offers_of(organisation=organisation).prefetch_related(None)
    offers = offers.filter(material__in=only) if only else offers
    for pk, length, *way in offers.order_by().values_list(
        "material_id", "length", "supplier__name", "lead_days", "valid_until"
    ):
        facts.ways[pk, length].append(Way(*way))
    keys = {key for key in (*facts.on_hand, *facts.changes) if key[0] in materials}
    if material and not keys:
        keys = {(material.pk, None)}
    return sorted((_thing(materials, key, facts, today) for key in keys), key=_urgency)


def _thing(materials: dict[int, Material], key: Key, facts: _Facts, today: date) -> Thing:
    changes, on_hand = facts.changes.get(key, []), facts.on_hand.get(key, 0)

    def total(cause: Cause) -> int:
        return sum(change.quantity for change in changes if change.cause is cause)

    outlook = look_ahead(on_hand=on_hand, changes=changes, ways=facts.ways.get(key, []), today=today)
    return Thing(
        materials[key[0]],
        key[1],
        on_hand,
        total(Cause.RESERVED),
        total(Cause.INCOMING),
        total(Cause.DEMAND),
        outlook,
        _covers(facts, key, outlook.short_on, today),
    )


def _covers(facts: _Facts, key: Key, short_on: date | None, today: date) -> tuple[Cover, ...]:
    if short_on is None:
        return ()
    return (*facts.drafts.get(key, ()), *after(facts.sent.get(key, ()), short_on, today=today))


def _urgency(thing: Thing) -> tuple:
    out = thing.outlook
    return (
        out.short_on or date.max,
        out.order_by.day if out.order_by else date.max,
        thing.material.name,
        thing.material.code,
        -(thing.length or 0),
    )


def _changes(
    organisation: Organisation,
    materials: dict[int, Material],
    only: list[int] | None,
    plan: Plan | None,
    lines: list[PurchaseOrderLine],
) -> Iterator[tuple[Key, Change]]:
    held = Reservation.objects.of(organisation).order_by()
    in_yard = held.filter(lot__offcut=False, **({"lot__material__in": only} if only else {}))
    rows = in_yard.values_list("lot__material", "lot__length", "need_by", "plan__number", "house__name")
    for pk, length, day, number, house, pieces in rows.annotate(sum=Sum("quantity")):
        yield (pk, length), Change(day, Cause.RESERVED, pieces, f"{house} (plan {number})")
    coming = held.filter(order_line__isnull=False, **({"order_line__material__in": only} if only else {}))
    rows = coming.values_list(
        "order_line__material",
        "order_line__length",
        "need_by",
        "plan__number",
        "house__name",
        "order_line__order__state",
        "order_line__order__number",
    )
    for pk, length, day, number, house, state, order, pieces in rows.annotate(sum=Sum("quantity")):
        # What a draft is to bring is not bought yet.
        draft = state == PurchaseOrder.State.DRAFT
        words = {"house": house, "plan": number, "order": order}
        if draft:
            note = gettext("%(house)s (plan %(plan)s), order %(order)s is not sent") % words
        else:
            note = gettext("%(house)s (plan %(plan)s)") % words
        yield (pk, length), Change(day, Cause.DEMAND if draft else Cause.RESERVED, pieces, note)
    for line in lines:
        note = gettext("%(order)s from %(supplier)s") % {"order": line_name(line), "supplier": line.order.supplier}
        if line.delivery_site:
            note = gettext("%(due)s, to %(site)s") % {"due": note, "site": line.delivery_site}
        yield (line.material_id, line.length), Change(line.due_on, Cause.INCOMING, line.waited, note)
    by_code = {row.code: row.pk for row in materials.values()}
    asked = next(iter(by_code)) if only else ""
    for number, house, row in still_to_find(organisation=organisation, material=asked):
        if (pk := by_code.get(row.material.code)) is not None:
            note = gettext("%(house)s (plan %(plan)s), neither held nor on order") % {
                "house": house.name,
                "plan": number,
            }
            # Of a run, one piece as long as what is missing.
            length, quantity = (row.to_find, 1) if row.run else (row.length, int(row.to_find))
            yield (pk, length), Change(house.need_date, Cause.DEMAND, quantity, note)
    if plan is not None:
        yield from _of_plan(organisation, plan, by_code)


def _incoming(organisation: Organisation, only: list[int] | None) -> list[PurchaseOrderLine]:
    lines = incoming_lines(organisation=organisation)
    lines = lines.select_related(None).select_related("order__supplier", "delivery_site")
    return list((lines.filter(material__in=only) if only else lines).only(*_OF_LINE))


def _of_plan(organisation: Organisation, plan: Plan, by_code: dict[str, int]) -> Iterator[tuple[Key, Change]]:
    """All that the plan needs, but for houses that hold by another plan already."""
    season, result = season_of(plan), season_plan_of(plan)
    built = accepted_slugs(organisation=organisation)
    names = {house.ref: house.name for house in season.houses}
    days = {house.ref: house.need_date for house in season.houses}
    offcuts = {lot.ref for lot in season.lots if lot.offcut}
    for want in wanted_reservations(season, result):
        if want.house not in built and want.source not in offcuts and want.material in by_code:
            note = f"{names[want.house]} (plan {plan.number}, not accepted)"
            yield (by_code[want.material], want.length), Change(want.need_by, Cause.DEMAND, want.quantity, note)
    for gap in result.unmet:
        if gap.house not in built and gap.material in by_code:
            note = f"{names[gap.house]} (plan {plan.number}, not accepted), cannot be bought"
            yield (by_code[gap.material], gap.length), Change(days[gap.house], Cause.DEMAND, gap.quantity, note)


def offcuts_of(*, organisation: Organisation, material: Material) -> QuerySet:
    """By length: ``pieces`` on hand and ``taken`` of them held, the longest first."""
    lots = lots_of(organisation=organisation).select_related(None).filter(material=material, offcut=True)
    rows = lots.filter(on_hand__gt=0).order_by().values("length")
    return rows.annotate(pieces=Sum(USABLE), taken=Sum("reserved")).order_by("-length")
