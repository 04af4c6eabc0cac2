"""Reads of cost against quote of one job."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property

from django.db.models import QuerySet, Sum
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import OfferRecord
from farmbuild.common.speaking import kept_words
from farmbuild.crew.models import Kind as Step
from farmbuild.measure import format_length, line_total, part_total, share_out
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.against.bridge import (
    Cause,
    Comparison,
    Key,
    Planned,
    Progress,
    Room,
    Row,
    Used,
    compare,
    progress,
    to_come,
)
from farmbuild.quotes.against.used import TRIP, EquipmentUsed, MaterialUsed, UsedUp, used_of
from farmbuild.quotes.agreed.contract import Agreed, Contract, contract_of
from farmbuild.quotes.models import Bill, Job, JobHouse, ToCome
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation

NOTHING = Decimal(0)
_ROOMS = {
    "goods": Room.MATERIALS,
    "charge": Room.MATERIALS,
    "hours": Room.WORK,
    "equipment": Room.EQUIPMENT,
    "trip": Room.EQUIPMENT,
}
_OTHER_WORK = gettext_noop("Other work")
#: Days of benders as they are worked out, whichever stands on the floor then.
BENDER: Key = (Room.EQUIPMENT, "bender")


def jobs_of(*, organisation: Organisation) -> QuerySet[Job]:
    return Job.objects.of(organisation).select_related("customer", "organisation")


def accepted_jobs(*, organisation: Organisation, job: Job | None = None) -> QuerySet[Job]:
    """All, or that one."""
    rows = jobs_of(organisation=organisation).filter(acceptance__isnull=False).order_by("number")
    return rows.filter(pk=job.pk) if job else rows


def houses_of(*, job: Job) -> list[House]:
    rows = JobHouse.objects.filter(job=job).select_related("house").order_by("pk")
    return [row.house for row in rows]


def typed_to_come(*, job: Job) -> ToCome | None:
    """What counts of what was typed; None where what is worked out does."""
    last = ToCome.objects.filter(job=job).select_related("by").first()
    return last if last and last.amount is not None else None


def material_key(code: str, length: Decimal | None) -> Key:
    return Room.MATERIALS, f"{code} {'' if length is None else length.normalize()}"


def named_key(room: Room, name: str) -> Key:
    """Of what has no code: found by what it is called, in capitals or not."""
    return room, f"={' '.join(name.split()).casefold()}"


def key_of_line(line: Mapping[str, str]) -> Key:
    room = _ROOMS[line["kind"]]
    if line["kind"] == "hours" and line["step"]:
        return room, line["step"]
    if line["kind"] == "trip":
        return named_key(room, TRIP)
    if line.get("key") == "bender":
        return BENDER
    if line["material"]:
        return material_key(line["material"], Decimal(line["length"]) if line["length"] else None)
    return named_key(room, line["what"])


def planned_of(agreed: Agreed) -> Iterator[Planned]:
    """Its lines; hours cost the labour of its rates."""
    for line in agreed.lines:
        price = line["price"] if line["kind"] != "hours" else agreed.rates["labour"]
        yield Planned(
            key_of_line(line),
            line["what"],
            Decimal(line["quantity"]),
            Decimal(price),
            changed=agreed.change is not None,
            charge=line["kind"] == "charge",
        )


@dataclass(frozen=True)
class Standard:
    """Of one that nobody quoted. ``offered``: by the cheapest offer of that day; else what was paid is it."""

    price: Decimal | None
    offered: bool


def standards(
    *, organisation: Organisation, wanted: Collection[tuple[int, Decimal | None]], day: date
) -> dict[tuple[int, Decimal | None], Decimal]:
    """Of these materials (key, length) the cheapest price of one that an offer had on that day; one query."""
    if not wanted:
        return {}
    rows = OfferRecord.objects.of(organisation).filter(
        material__in={material for material, _ in wanted}, currency=organisation.currency, since__lte=day
    )
    last = {row.offer_key: row for row in rows.order_by("pk")}
    found: dict[tuple[int, Decimal | None], Decimal] = {}
    for row in last.values():
        key = (row.material_id, row.length)
        gone = row.kind == OfferRecord.Kind.REMOVED or (row.valid_until is not None and row.valid_until < day)
        if key in wanted and not gone:
            found[key] = min(found.get(key, row.price), row.price)
    return found


@dataclass(frozen=True)
class Ordered:
    """On its way for a house: pieces held of a line of an order that went out, at the price confirmed or ordered."""

    house: int
    key: Key
    quantity: Decimal
    amount: Decimal


def ordered_for(*, organisation: Organisation, houses: Collection[int]) -> list[Ordered]:
    rows = Reservation.objects.of(organisation).filter(
        house__in=houses, order_line__isnull=False, order_line__order__state__in=PurchaseOrder.OPEN
    )
    line = "order_line__"
    found = rows.values_list(
        *("house", f"{line}material__code", f"{line}length", f"{line}unit_price", f"{line}confirmed_price")
    ).annotate(held=Sum("quantity"))
    return [
        Ordered(
            house,
            material_key(code, length),
            Decimal(held),
            line_total(held, price if confirmed is None else confirmed, organisation.currency),
        )
        for house, code, length, price, confirmed, held in found.order_by("house", f"{line}material__code", f"{line}pk")
    ]


@dataclass(frozen=True)
class HouseRow:
    """``house`` None: what is charged to the job as a whole. What was quoted is shared by the lengths of the houses."""

    house: House | None
    quoted: Decimal
    changed: Decimal
    actual: Decimal
    committed: Decimal
    to_come: Decimal

    @property
    def at_completion(self) -> Decimal:
        return self.actual + self.to_come


class JobCosts:
    """All of one job; reads what it needs once, however many houses it has."""

    def __init__(self, contract: Contract) -> None:
        self.contract, self.job, self.currency = contract, contract.job, contract.currency
        self.organisation = self.job.organisation
        self.houses = houses_of(job=self.job)
        keys = [house.pk for house in self.houses]
        self.used: UsedUp = used_of(organisation=self.organisation, job=self.job, houses=keys)
        self.ordered = ordered_for(organisation=self.organisation, houses=keys)
        self.typed = typed_to_come(job=self.job)
        self.overhead = Decimal(contract.option.rates["overhead"])
        self.labour = Decimal(contract.option.rates["labour"])

    @cached_property
    def planned(self) -> list[Planned]:
        return [line for agreed in self.contract.all for line in planned_of(agreed)]

    @cached_property
    def quoted_on(self) -> date:
        return timezone.localdate(self.contract.sent_at, zone_of(organisation=self.organisation))

    @cached_property
    def _standards(self) -> dict[tuple[int, Decimal | None], Decimal]:
        planned = {line.key for line in self.planned}
        wanted = {
            (row.material, row.length) for row in self.used.materials if self._key_of(row, planned) not in planned
        }
        return standards(organisation=self.organisation, wanted=wanted, day=self.quoted_on)

    @staticmethod
    def _key_of(row: MaterialUsed, planned: Collection[Key]) -> Key:
        """A line without a code was typed: it is found by what it is called."""
        key, named = material_key(row.code, row.length), named_key(Room.MATERIALS, row.name)
        return named if key not in planned and named in planned else key

    @staticmethod
    def _key_of_thing(thing: EquipmentUsed, planned: Collection[Key]) -> Key:
        """By its name; a bender that was not quoted by its own is one of the days of benders."""
        named = named_key(Room.EQUIPMENT, thing.name)
        others = (BENDER, named_key(Room.EQUIPMENT, "bender")) if thing.bender else ()
        return next((key for key in (named, *others) if key in planned), named)

    def _used(self) -> list[Used]:
        planned = {line.key for line in self.planned}
        sums: dict[Key, list[Decimal]] = defaultdict(lambda: [NOTHING, NOTHING])
        names: dict[Key, str] = {}
        standard: dict[Key, Decimal | None] = {}

        def add(key: Key, name: str, quantity: Decimal, amount: Decimal, price: Decimal | None = None) -> None:
            names.setdefault(key, name)
            standard.setdefault(key, price)
            sums[key][0] += quantity
            sums[key][1] += amount

        for row in self.used.materials:
            key = self._key_of(row, planned)
            name = row.name if row.length is None else f"{row.name}, {self._length(row.length)}"
            add(key, name, row.quantity, row.amount, self._standards.get((row.material, row.length)))
        for time in self.used.time:
            name = kept_words(Step(time.step).label) if time.step else _OTHER_WORK
            key, named = (Room.WORK, time.step), named_key(Room.WORK, name)
            if not time.step or (key not in planned and named in planned):
                # Hours that were typed into the quote have no step: they are found by its name.
                key = named
            add(key, name, time.hours, time.amount, self.labour)
        for thing in self.used.equipment:
            add(self._key_of_thing(thing, planned), thing.name, thing.times, thing.amount)
        return [Used(key, names[key], quantity, amount, standard[key]) for key, (quantity, amount) in sums.items()]

    def _length(self, length: Decimal) -> str:
        return format_length(length, self.organisation.unit_system)

    @cached_property
    def comparison(self) -> Comparison:
        return compare(self.planned, self._used(), overhead=self.overhead, currency=self.currency)

    def unquoted(self, row: Row) -> str:
        """What the standard price of a row is that nobody quoted, or where a charge went; else empty."""
        if row.within:
            return gettext("in the cost of the goods that it brings")
        if row.foreseen or row.key[0] == Room.EQUIPMENT:
            return ""
        if row.key[0] == Room.WORK:
            return gettext("not quoted: at the labour of the quote")
        offered = {
            material_key(used.code, used.length)
            for used in self.used.materials
            if (used.material, used.length) in self._standards
        }
        if row.key in offered:
            return gettext("not quoted: at the cheapest offer of the day of the quote")
        return gettext("not quoted: at the price paid, since nothing was offered that day")

    # Sums

    @property
    def quoted(self) -> Decimal:
        return self.comparison.differences.quoted

    @property
    def changed(self) -> Decimal:
        return self.comparison.differences.by_cause[Cause.CHANGE_ORDER]

    @property
    def actual(self) -> Decimal:
        return self.comparison.differences.actual

    @property
    def committed(self) -> Decimal:
        return sum((row.amount for row in self.ordered), NOTHING)

    @cached_property
    def worked_to_come(self) -> Decimal:
        """Of a finished job what is on its way alone."""
        if self.job.state == Job.State.FINISHED:
            return self.committed
        ordered: dict[Key, tuple[Decimal, Decimal]] = {}
        for row in self.ordered:
            quantity, amount = ordered.get(row.key, (NOTHING, NOTHING))
            ordered[row.key] = (quantity + row.quantity, amount + row.amount)
        return to_come(self.comparison, ordered=ordered, overhead=self.overhead, currency=self.currency)

    @property
    def to_come(self) -> Decimal:
        return self.typed.amount if self.typed else self.worked_to_come

    @property
    def at_completion(self) -> Decimal:
        return self.actual + self.to_come

    @cached_property
    def billed(self) -> Decimal:
        # Added up here: SQLite sums them as binary fractions.
        return sum(Bill.objects.filter(job=self.job).values_list("billed", flat=True), NOTHING)

    @cached_property
    def progress(self) -> Progress | None:
        """By cost to cost; None where more was credited or taken away than there is."""
        figures = {"contract": self.contract.before_tax, "cost": self.actual, "to_come": self.to_come}
        if min(*figures.values(), self.billed) < 0:
            return None
        return progress(**figures, billed=self.billed, currency=self.currency)

    # Houses and days

    @cached_property
    def by_house(self) -> list[HouseRow]:
        """They add up to the job; overhead goes by the hours, what was quoted and is to come by length."""
        paid: dict[int | None, Decimal] = defaultdict(Decimal)
        hours: dict[int | None, Decimal] = defaultdict(Decimal)
        for row in self.used.rows:
            paid[row.house] += row.amount
        for time in self.used.time:
            hours[time.house] += time.hours
        places = [*(house.pk for house in self.houses), *([None] if None in paid or not self.houses else [])]
        worked = self._shared(self.comparison.overhead[2], [max(NOTHING, hours[place]) for place in places])
        lengths = [house.length or NOTHING for house in self.houses] + [NOTHING] * (len(places) - len(self.houses))
        if not self.houses:
            lengths = [Decimal(1)]
        elif not any(lengths):
            lengths[: len(self.houses)] = [Decimal(1)] * len(self.houses)
        shares = [self._shared(amount, lengths) for amount in (self.quoted, self.changed, self.to_come)]
        ordered: dict[int | None, Decimal] = defaultdict(Decimal)
        for order in self.ordered:
            ordered[order.house] += order.amount
        houses = {house.pk: house for house in self.houses}
        return [
            HouseRow(
                houses.get(place),
                quoted,
                changed,
                paid[place] + overhead,
                ordered[place],
                left,
            )
            for place, overhead, quoted, changed, left in zip(places, worked, *shares, strict=True)
        ]

    def _shared(self, amount: Decimal, by: list[Decimal]) -> list[Decimal]:
        return share_out(amount, by, self.currency) if by else []

    @cached_property
    def by_day(self) -> list[tuple[date, Decimal]]:
        """What it had cost at the end of each day, overhead with it; the last is the actual cost."""
        days: dict[date, list[Decimal]] = defaultdict(lambda: [NOTHING, NOTHING])
        for row in self.used.rows:
            days[row.day][0] += row.amount
        for time in self.used.time:
            days[time.day][1] += time.hours
        found, paid, hours = [], NOTHING, NOTHING
        for day in sorted(days):
            paid, hours = paid + days[day][0], hours + days[day][1]
            found.append((day, paid + part_total(hours, self.overhead, self.currency)))
        return found

    @cached_property
    def budget_by_day(self) -> list[tuple[date, Decimal]]:
        """What was quoted, and with each change from the day on which it was accepted."""
        found = [(self.quoted_on, self.quoted)]
        at = self.quoted
        for agreed in self.contract.changes:
            at += agreed.priced.cost
            found.append((agreed.change.accepted_on, at))
        return found


def costs_of(*, job: Job) -> JobCosts | None:
    """None while nothing is accepted."""
    contract = contract_of(job=job)
    return contract and JobCosts(contract)


def finished_jobs_of(*, organisation: Organisation) -> Iterable[Job]:
    return jobs_of(organisation=organisation).filter(state=Job.State.FINISHED).order_by("-number")
