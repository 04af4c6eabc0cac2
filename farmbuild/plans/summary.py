"""A plan in a few figures: the answer, and how good it is."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal

from django.utils.translation import gettext

from farmbuild.buying.bridge import numbered
from farmbuild.catalogue.words import piece_noun
from farmbuild.common.speaking import said
from farmbuild.measure import format_length, format_money, noun_for
from farmbuild.plans import bridge
from farmbuild.plans.bridge import Material, Season, SeasonPlan, Unmet, house_names

PERCENT = Decimal(100)


@dataclass(frozen=True)
class Short:
    material: Material
    quantity: int

    @property
    def noun(self) -> str:
        return noun_for(self.quantity, piece_noun(self.material.kind))


@dataclass(frozen=True)
class Answer:
    """What the first line of a plan says. ``first`` is what costs most in the order that goes out first."""

    first: Short | None
    more: int
    orders: int
    total: Decimal
    order_by: date | None
    need_by: date | None
    overdue: bool
    late_lines: int
    most_days_late: int
    missing: int
    missing_things: tuple[str, ...]


@dataclass(frozen=True)
class Proof:
    """A cost against the proven least. ``saving`` is what a better plan could save at most.

    ``together``: over cuts and offers together; else over one of them, the other being given.
    """

    about: str
    cost: Decimal
    bound: Decimal
    optimal: bool
    method: str = ""
    together: bool = False
    #: The money has the tax in it, as the prices of the offers have.
    with_tax: bool = False

    @property
    def saving(self) -> Decimal:
        return self.cost - self.bound

    @property
    def percent(self) -> Decimal:
        """The saving as a share of the cost, rounded up to a hundredth, so that it never sounds too good."""
        if not self.cost:
            return Decimal(0)
        return (PERCENT * self.saving / self.cost).quantize(Decimal("0.01"), ROUND_CEILING)


@dataclass(frozen=True)
class TriedOrder:
    """What a plan would order of one supplier. ``number``: what the order would have."""

    number: str
    supplier: str
    order_by: date
    need_by: date
    line_count: int
    late: bool
    total: Decimal


def tried_orders(season: Season, plan: SeasonPlan, *, number: int) -> list[TriedOrder]:
    """The first to go out comes first. ``number``: that of the plan."""
    names = {supplier.code: supplier.name for supplier in season.suppliers}
    rows = [
        TriedOrder(
            number=name,
            supplier=names[order.supplier],
            order_by=order.order_by,
            need_by=order.need_by,
            line_count=len(order.lines),
            late=any(line.late_days for line in order.lines),
            total=order.total,
        )
        for name, order in numbered(plan.orders, number).items()
    ]
    return sorted(rows, key=lambda row: (row.order_by, row.number))


@dataclass(frozen=True)
class Fetched:
    """Of one thing, what is fetched from the common stock of one cooperative at one place. ``what``: material and
    length."""

    cooperative: str
    what: str
    place: str
    quantity: int
    amount: Decimal


def fetched_of(season: Season, plan: SeasonPlan) -> list[Fetched]:
    """By cooperative, thing and place, however many lots it lies in."""
    names = {material.code: material.name for material in season.materials}
    places = {lot.ref: lot.place for lot in season.lots}
    found: dict[tuple[str, str, str], tuple[int, Decimal]] = {}
    for row in plan.from_common:
        long = f", {format_length(row.length, season.buyer.units)}" if row.length is not None else ""
        key = (row.cooperative, f"{names[row.material]}{long}", places[row.lot])
        quantity, amount = found.get(key, (0, Decimal(0)))
        found[key] = (quantity + row.quantity, amount + row.amount)
    return [Fetched(*key, *sums) for key, sums in sorted(found.items())]


def shorts_of(season: Season, plan: SeasonPlan) -> list[Short]:
    """What has to be bought, by material, before packs."""
    quantities: dict[str, int] = defaultdict(int)
    for gap in plan.shortfalls:
        quantities[gap.material] += gap.quantity
    return [Short(m, quantities[m.code]) for m in season.materials if quantities.get(m.code)]


def answer_of(season: Season, plan: SeasonPlan, *, today: date) -> Answer:
    shorts = {short.material.code: short for short in shorts_of(season, plan)}
    first = min(plan.orders, key=lambda order: (order.order_by, order.supplier), default=None)
    dearest = max(first.lines, key=lambda line: (line.line_total, line.material)) if first else None
    late = [line.late_days for order in plan.orders for line in order.lines if line.late_days]
    names = {material.code: material.name for material in season.materials}
    return Answer(
        first=shorts.get(dearest.material) if dearest else None,
        more=len(shorts) - 1,
        orders=len(plan.orders),
        total=sum((order.total for order in plan.orders), Decimal(0)),
        order_by=first.order_by if first else None,
        need_by=first.need_by if first else None,
        overdue=bool(first and first.order_by < today),
        late_lines=len(late),
        most_days_late=max(late, default=0),
        missing=sum(gap.quantity for gap in plan.unmet),
        missing_things=tuple(sorted({names[gap.material] for gap in plan.unmet})),
    )


@dataclass(frozen=True)
class ProofCount:
    """So many of ``count`` cut plans are proven best by the prices paid; the others could save ``saving`` at most.

    ``together``: whatever each is by itself, all of them with their orders are proven best.
    """

    count: int
    proven: int
    saving: Decimal
    together: bool

    @property
    def open(self) -> int:
        return self.count - self.proven


#: As ``planning.cutting.search`` says how a cut plan was found.
_METHOD = re.compile(r"(proven|not proven best): plan by (.*), bound by (.*)")


def said_method(method: str) -> str:
    """How a cut plan was found, in the language of the page."""
    found = _METHOD.fullmatch(method)
    if not found:
        return method
    words = gettext("proven: plan by %(plan)s, bound by %(bound)s")
    if found[1] != "proven":
        words = gettext("not proven best: plan by %(plan)s, bound by %(bound)s")
    return words % {"plan": said(found[2]), "bound": said(found[3])}


def cut_proofs(season: Season, plan: SeasonPlan) -> list[Proof]:
    names = {material.code: material.name for material in season.materials}
    return [Proof(names[row.material], row.cost, row.bound, row.optimal, row.method) for row in plan.cut_summaries]


def count_proofs(plan: SeasonPlan, proofs: list[Proof]) -> ProofCount:
    return ProofCount(
        count=len(proofs),
        proven=sum(proof.optimal for proof in proofs),
        saving=sum((proof.saving for proof in proofs), Decimal(0)),
        together=plan.together is not None and plan.together.optimal,
    )


def more_than_needed(season: Season, plan: SeasonPlan) -> list[str]:
    """Of which things more is bought than is needed, and why; a sentence each."""
    suppliers = {supplier.code: supplier for supplier in season.suppliers}
    found = []
    for order in plan.orders:
        for line in order.lines:
            why = bridge.why_more(
                needed=line.needed,
                pack=line.pack,
                quantity=line.quantity,
                unit_price=line.unit_price,
                goods=order.goods,
                supplier=suppliers[order.supplier],
                money=lambda amount: format_money(amount, season.buyer.currency),
            )
            if why:
                found.append(f"{line.description}: {said(why)}.")
    return found


def buying_proof(plan: SeasonPlan) -> Proof:
    """What the orders come to at the prices of the offers. An older plan chose its offers for cuts that were given."""
    buying, all_, taxed = plan.buying, plan.together, any(order.tax_included for order in plan.orders)
    if all_ is None:
        return Proof("Orders", buying.cost, buying.bound, buying.optimal, with_tax=taxed)
    least = buying.cost - (all_.cost - all_.bound)
    return Proof("Orders", buying.cost, least, all_.optimal, together=True, with_tax=taxed)


@dataclass(frozen=True)
class ShortRow:
    """What has to be bought of one thing by one day; ``supplier`` is who it is ordered from."""

    material: str
    length: Decimal | None
    quantity: int
    need_by: date
    supplier: str


@dataclass(frozen=True)
class GapRow:
    """What cannot be bought. ``code`` is the material's; ``reason`` is about the longest piece, of ``length``.

    ``whole``: sticks of just this length are wanted. ``offered``: an offer of the material was added since.
    """

    code: str
    material: str
    length: Decimal | None
    quantity: int
    houses: str
    purposes: str
    reason: str
    whole: bool
    offered: bool


def short_rows(season: Season, plan: SeasonPlan) -> list[ShortRow]:
    """In the order in which it is needed."""
    names = {material.code: material.name for material in season.materials}
    suppliers = {supplier.code: supplier.name for supplier in season.suppliers}
    sellers: dict[tuple[str, Decimal | None], set[str]] = defaultdict(set)
    for order in plan.orders:
        for line in order.lines:
            sellers[line.material, line.length].add(suppliers[order.supplier])
    rows = [
        ShortRow(
            names[gap.material],
            gap.length,
            gap.quantity,
            gap.need_by,
            ", ".join(sorted(sellers[gap.material, gap.length])),
        )
        for gap in plan.shortfalls
    ]
    return sorted(rows, key=lambda row: (row.need_by, row.material, -(row.length or 0)))


def gap_rows(season: Season, plan: SeasonPlan, *, offered: Collection[str]) -> list[GapRow]:
    """A row a thing that has to be offered. ``offered``: codes of materials of which an offer was added since."""
    names = {material.code: material.name for material in season.materials}
    houses = house_names(season)
    whole = {(row.house, row.purpose, row.material, row.length) for row in plan.takeoff if row.whole}
    things: dict[tuple[str, Decimal | None], list[Unmet]] = defaultdict(list)
    for gap in plan.unmet:
        alone = (gap.house, gap.purpose, gap.material, gap.length) in whole
        things[gap.material, gap.length if alone else None].append(gap)
    rows = []
    for (code, alone), gaps in things.items():
        longest = max(gaps, key=lambda gap: gap.length or 0)
        rows.append(
            GapRow(
                code=code,
                material=names[code],
                length=longest.length,
                quantity=sum(gap.quantity for gap in gaps),
                houses=", ".join(dict.fromkeys(houses[gap.house] for gap in gaps)),
                purposes=", ".join(dict.fromkeys(said(gap.purpose) for gap in gaps)),
                reason=longest.reason if len(gaps) == 1 else _reason_of_all(longest, alone=alone is not None),
                whole=alone is not None,
                offered=code in offered,
            )
        )
    return rows


def _reason_of_all(gap: Unmet, *, alone: bool) -> str:
    """Of what is bought whole or counted, a reason says how much one house lacks, which is not true of all of them."""
    if not alone and gap.length is not None:
        return gap.reason
    if alone:
        return gettext("The yard has too few for all of them, and nobody offers it in this length.")
    return gettext("The yard has too few for all of them, and nobody offers it.")


def offered_rows(gaps: Collection[GapRow]) -> int:
    return sum(gap.offered for gap in gaps)
