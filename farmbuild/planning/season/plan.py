"""A whole season: from house specs, stock and offers to cuts, orders and what is left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from farmbuild.measure import format_count, line_total, use_style
from farmbuild.planning.buying.plan import buy
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.context import SpecProblem
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import Season
from farmbuild.planning.materials import Material
from farmbuild.planning.netting.cuts import Saw
from farmbuild.planning.netting.in_house import Covered, subtract_in_house
from farmbuild.planning.netting.market import Market
from farmbuild.planning.netting.plan import Netting, net
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import FromCommon, SeasonPlan, TakeoffRow
from farmbuild.planning.season.leftovers import remains
from farmbuild.planning.season.size import why_too_many
from farmbuild.planning.season.together import choose_together

#: Told how many steps are done, of how many, and what is being done now.
Progress = Callable[[int, int, str], None]


#: Of any count, length in mm or price: beyond it the choice of offers could not be counted exactly.
MAX_NUMBER = 10_000_000


@dataclass(frozen=True)
class HouseProblem:
    house: str
    problem: SpecProblem


class SeasonError(ValueError):
    """The season cannot be planned as it stands. ``reasons`` are sentences; ``houses`` the specs at fault."""

    def __init__(self, reasons: Iterable[str], houses: Iterable[HouseProblem] = ()) -> None:
        self.reasons = tuple(reasons)
        self.houses = tuple(houses)
        super().__init__(" ".join(self.reasons))


def check_season(season: Season) -> None:
    """Raise SeasonError when codes repeat or name nothing, or a house cannot be built."""
    reasons: list[str] = []
    for what, codes in (
        ("house", [h.ref for h in season.houses]),
        ("material", [m.code for m in season.materials]),
        ("site", [s.code for s in season.sites]),
        ("lot", [lot.ref for lot in season.lots]),
        ("supplier", [s.code for s in season.suppliers]),
        ("offer", [o.ref for o in season.offers]),
    ):
        reasons += [f"The {what} {code!r} is listed {n} times." for code, n in Counter(codes).items() if n > 1]
    materials = {m.code: m for m in season.materials}
    sites = {s.code for s in season.sites}
    suppliers = {s.code for s in season.suppliers}
    for house in season.houses:
        if house.site not in sites:
            reasons.append(f"{house.name} stands on a site, {house.site!r}, that is not listed.")
    for lot in season.lots:
        reasons += _thing(f"Lot {lot.ref}", lot.material, lot.length is not None, materials)
        if lot.quantity < 0 or lot.unit_cost < 0 or (lot.length is not None and lot.length <= 0):
            reasons.append(f"Lot {lot.ref} has a quantity, length or cost below 0.")
        if any(amount > MAX_NUMBER for amount in (lot.quantity, lot.unit_cost, lot.length or 0)):
            reasons.append(f"Lot {lot.ref} has a quantity, length or cost above {format_count(MAX_NUMBER)}.")
    for offer in season.offers:
        reasons += _thing(f"Offer {offer.ref}", offer.material, offer.length is not None, materials)
        if offer.supplier not in suppliers:
            reasons.append(f"Offer {offer.ref} is from a supplier, {offer.supplier!r}, that is not listed.")
        if offer.pack < 1 or (offer.lead_days or 0) < 0 or any(b.unit_price < 0 for b in offer.breaks):
            reasons.append(f"Offer {offer.ref} has a pack below 1, or a lead time or price below 0.")
        elif offer.pack > MAX_NUMBER or any(
            max(Decimal(b.from_quantity), b.unit_price) > MAX_NUMBER for b in offer.breaks
        ):
            reasons.append(f"Offer {offer.ref} has a pack, break or price above {format_count(MAX_NUMBER)}.")
        elif [b.from_quantity for b in offer.breaks] != sorted({b.from_quantity for b in offer.breaks}):
            reasons.append(f"The price breaks of offer {offer.ref} do not rise in quantity.")
    for supplier in season.suppliers:
        charges = (supplier.delivery_charge, supplier.minimum_order, supplier.free_delivery_from or 0)
        if not all(0 <= charge <= MAX_NUMBER for charge in charges):
            reasons.append(f"A charge or level of {supplier.name} is below 0 or above {format_count(MAX_NUMBER)}.")
    if season.kerf < 0 or season.keep_from < 0:
        reasons.append("The width of the saw cut and the shortest offcut to keep cannot be below 0.")
    houses = []
    if not reasons:
        for house in season.houses:
            for problem in check_spec(house.spec, materials, season.buyer.units):
                houses.append(HouseProblem(house.ref, problem))
                reasons.append(f"{house.name}: {problem.message}")
    if reasons:
        raise SeasonError(reasons, houses)


def _thing(what: str, code: str, has_length: bool, materials: dict[str, Material]) -> list[str]:
    if code not in materials:
        return [f"{what} is of a material, {code!r}, that is not listed."]
    if materials[code].by_length != has_length:
        need = "needs a length" if materials[code].by_length else "is counted and has no length"
        return [f"{what}: {materials[code].name} {need}."]
    return []


def plan_season(
    season: Season, *, progress: Progress | None = None, ended: Callable[[], bool] | None = None
) -> SeasonPlan:
    """Plan the whole season. The same season gives the same plan, to the letter.

    ``ended`` is asked now and then: once it answers True, the search for better ends with the best so far.

    Raises SeasonError when the season cannot be planned as it stands. What cannot be bought is in ``unmet`` and
    what comes late says so on its order line; neither stops the plan. Numbers stand in it as the buyer writes them.
    """
    with use_style(season.buyer.style):
        return _plan(season, progress, ended)


def _plan(season: Season, progress: Progress | None, ended: Callable[[], bool] | None) -> SeasonPlan:
    check_season(season)
    materials = {m.code: m for m in season.materials}
    houses = {h.ref: h for h in season.houses}
    units, currency = season.buyer.units, season.buyer.currency
    cut_kinds = sum(1 for m in season.materials if m.by_length)
    steps = len(season.houses) + cut_kinds + 2

    def tell(done: int, doing: str) -> None:
        if progress:
            progress(done, steps, doing)

    takeoff: list[TakeoffRow] = []
    for n, house in enumerate(season.houses):
        tell(n, f"Taking off {house.name}")
        takeoff += take_off(house, materials, units)
    if words := why_too_many(season.houses, takeoff):
        raise SeasonError([words])
    base = len(season.houses)
    covered = subtract_in_house(takeoff, season.in_house, materials, season.kerf)
    if covered.more:
        # What the joints of the sticks in a house take is a need of it, before what it has of that is taken out.
        named = {house.ref: house for house in season.houses}
        takeoff = [
            covered.more[row.house].follow(named[row.house], row, materials, units)
            if row.house in covered.more
            else row
            for row in takeoff
        ]
        covered = subtract_in_house(takeoff, season.in_house, materials, season.kerf)
    yard = Yard(season.lots)
    market = Market.of(season.offers, season.as_of)
    saw = Saw(season.kerf, units, currency, ended=ended)
    netting = net(
        covered.rows,
        season.houses,
        materials,
        yard,
        market,
        saw=saw,
        before={ref: more.taped for ref, more in covered.more.items()},
        progress=lambda done, _, doing: tell(base + done, doing),
    )
    tell(steps - 2, "Choosing offers")
    together, choice = choose_together(netting, materials, yard, market, season.suppliers, saw)
    bought = buy(
        netting.needs,
        market,
        season.suppliers,
        materials,
        season.buyer,
        delivery_site=season.delivery_site,
        choice=choice,
    )
    tell(steps - 1, "Counting the leftovers")
    left = remains(
        [part for row in covered.rows for part in netting.chosen.get(row, [row])],
        houses,
        materials,
        yard,
        netting,
        bought.orders,
        delivery_site=season.delivery_site,
        currency=currency,
        kerf=season.kerf,
        keep_from=season.keep_from,
    )
    tell(steps, "Done")
    return SeasonPlan(
        takeoff=tuple(part for row in takeoff for part in _as_chosen(row, covered, netting)),
        allocations=tuple(netting.allocations),
        layouts=tuple(netting.layouts),
        cut_summaries=tuple(netting.summaries),
        shortfalls=netting.shortfalls(),
        orders=bought.orders,
        buying=bought.summary,
        leftovers=left.leftovers,
        unmet=tuple(netting.unmet),
        leftover_value=left.leftover_value,
        scrap_value=left.scrap_value,
        balances=left.balances,
        already_there=tuple(covered.there),
        too_much=tuple(covered.too_much),
        together=together,
        from_common=tuple(_from_common(yard, currency)),
    )


def _from_common(yard: Yard, currency: str) -> Iterator[FromCommon]:
    for lot in yard.lots:
        taken = lot.quantity - yard.left[lot.ref]
        if lot.common and taken:
            amount = line_total(taken, lot.unit_cost, currency)
            yield FromCommon(lot.ref, lot.common, lot.material, lot.length, taken, lot.unit_cost, amount)


def _as_chosen(row: TakeoffRow, covered: Covered, netting: Netting) -> Iterator[TakeoffRow]:
    """A row of joined runs as they are made: what is there by its own length, and the sticks that were chosen."""
    key = (row.house, row.purpose, row.material)
    chosen = [
        part
        for wanted, parts in netting.chosen.items()
        if (wanted.house, wanted.purpose, wanted.material) == key
        for part in parts
    ]
    if not row.run and chosen:
        # Screws and tape: all that the row says, with what the joints of the sticks taken change.
        wanted = sum(one.quantity for one in netting.chosen if (one.house, one.purpose, one.material) == key)
        if quantity := row.quantity + chosen[0].quantity - wanted:
            yield replace(chosen[0], quantity=quantity)
        return
    if not row.run or all(part.length == row.length for part in chosen):
        yield row
        return
    there = row.quantity - sum(
        wanted.quantity for wanted in covered.rows if (wanted.house, wanted.purpose, wanted.material) == key
    )
    if there:
        yield replace(row, quantity=there, trims=min(row.trims, there))
    yield from chosen
