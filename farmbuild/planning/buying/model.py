"""The choice of offers as an integer program, solved exactly with CP-SAT.

For offer o and price step k: packs n, at least what the step asks and at most one step an offer, at the
step's price. For every need date, what arrives by then covers all that is needed until then. For every
supplier: goods reach the minimum order, and delivery is charged unless goods reach the free level. Goods are the
sum of lines, each rounded half up to whole coins, as on the order. One worker, a fixed seed and a deterministic
limit make the same input give the same answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from ortools.sat.python import cp_model

from farmbuild.planning.inputs import Offer, Supplier
from farmbuild.planning.netting.market import Item, Market


@dataclass(frozen=True)
class Choice:
    """``packs`` above 0 by offer ref; ``offers`` in item order. ``cost`` is what the orders come to before tax."""

    offers: tuple[Offer, ...]
    packs: Mapping[str, int]
    cost: Decimal
    bound: Decimal
    optimal: bool


@dataclass(frozen=True)
class _Step:
    """One price step of an offer: its price in units of the scale and the packs it allows."""

    price: int
    least: int
    most: int


def best_offers(
    demand: Mapping[Item, Mapping[date, int]],
    market: Market,
    suppliers: Sequence[Supplier],
    *,
    places: int,
    effort: float,
) -> Choice:
    """Least goods plus delivery. ``demand``: quantity by item and day; every item is on offer. ``places``: of
    a coin.

    Raises ValueError when an item is not.
    """
    missing = [item for item in demand if not market.sells(item)]
    if missing:
        raise ValueError(f"nobody offers {missing[0][0]}")
    held = {supplier.code: supplier for supplier in suppliers}
    offers = [o for item in demand for o in market.offers[item] if o.supplier in held]
    if not offers:
        return Choice((), {}, Decimal(0), Decimal(0), True)
    used = [held[code] for code in sorted({o.supplier for o in offers})]
    scale = _scale(offers, used, places)
    model = cp_model.CpModel()
    packs: dict[str, list[tuple[_Step, cp_model.IntVar]]] = {}
    chosen: dict[str, list[cp_model.IntVar]] = {s.code: [] for s in used}
    for item, days in demand.items():
        total = sum(days.values())
        for offer in market.offers[item]:
            if offer.supplier not in held:
                continue
            steps = []
            takes = []
            for step in _steps(offer, total, held[offer.supplier], scale):
                take = model.new_bool_var("")
                n = model.new_int_var(0, step.most, "")
                model.add(n <= step.most * take)
                model.add(n >= step.least * take)
                steps.append((step, n))
                takes.append(take)
            model.add_at_most_one(takes)
            chosen[offer.supplier] += takes
            packs[offer.ref] = steps
        _cover(model, item, days, market, packs)
    cost = []
    for supplier in used:
        own = [(o, step, n) for o in offers if o.supplier == supplier.code for step, n in packs[o.ref]]
        goods = sum(_line(model, o, step, n, scale, places) for o, step, n in own)
        cost += [goods, *_delivery(model, supplier, goods, chosen[supplier.code], scale, places)]
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    solver.parameters.linearization_level = 2
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError(f"the choice of offers was not solved: {solver.status_name(status)}")
    counts = {o.ref: sum(solver.value(n) for _, n in packs[o.ref]) for o in offers}
    return Choice(
        tuple(o for o in offers if counts[o.ref]),
        {ref: n for ref, n in counts.items() if n},
        Decimal(round(solver.objective_value)) / scale,
        Decimal(round(solver.best_objective_bound)) / scale,
        status == cp_model.OPTIMAL,
    )


def _scale(offers: Sequence[Offer], suppliers: Sequence[Supplier], places: int) -> Decimal:
    """The power of ten that makes every amount whole, and half a coin too."""
    amounts = [step.unit_price for offer in offers for step in offer.breaks]
    for supplier in suppliers:
        amounts += [supplier.delivery_charge, supplier.minimum_order]
        if supplier.free_delivery_from is not None:
            amounts.append(supplier.free_delivery_from)
    finest = max(0, *(-int(a.normalize().as_tuple().exponent) for a in amounts))
    whole = all(_in_coins(o, places) for o in offers)
    return Decimal(10) ** (finest if whole else max(finest, places + 1))


def _in_coins(offer: Offer, places: int) -> bool:
    """Whether every line of this offer comes to whole coins without rounding."""
    return all(step.unit_price * offer.pack * 10**places % 1 == 0 for step in offer.breaks)


def _up(amount: Decimal) -> int:
    return int(amount.to_integral_value(ROUND_CEILING))


def _steps(offer: Offer, total: int, supplier: Supplier, scale: Decimal) -> list[_Step]:
    """Price steps with the packs that could be worth taking: the need, the break itself, and what it takes to
    reach the minimum order or to save the delivery charge."""
    steps = []
    for k, step in enumerate(offer.breaks):
        least = max(1, -(-step.from_quantity // offer.pack))
        most = max(least, -(-total // offer.pack))
        if step.unit_price > 0:
            worth = supplier.minimum_order + supplier.delivery_charge
            most += _up(worth / (step.unit_price * offer.pack)) + 1
        if k + 1 < len(offer.breaks):
            most = min(most, (offer.breaks[k + 1].from_quantity - 1) // offer.pack)
        if most >= least:
            steps.append(_Step(int(step.unit_price * scale), least, most))
    return steps


def _cover(
    model: cp_model.CpModel,
    item: Item,
    days: Mapping[date, int],
    market: Market,
    packs: Mapping[str, list[tuple[_Step, cp_model.IntVar]]],
) -> None:
    """What arrives by each day covers all that is needed until then; a day that nothing reaches waits for the
    first arrival."""
    offers = [o for o in market.offers[item] if o.ref in packs]
    first = min(market.arrival(o) for o in offers)
    until: dict[date, int] = {}
    so_far = 0
    for day, quantity in days.items():
        so_far += quantity
        until[max(day, first)] = so_far
    for day, quantity in until.items():
        arrived = [o.pack * n for o in offers if market.arrival(o) <= day for _, n in packs[o.ref]]
        model.add(sum(arrived) >= quantity)


def _line(
    model: cp_model.CpModel, offer: Offer, step: _Step, packs: cp_model.IntVar, scale: Decimal, places: int
) -> cp_model.LinearExprT:
    """What a line comes to on the order. A step that is not taken comes to nothing."""
    each = step.price * offer.pack
    if _in_coins(offer, places):
        return each * packs
    coin = int(scale) // 10**places
    coins = model.new_int_var(0, each * step.most // coin + 1, "")
    # Half up: at most half a coin above the exact amount, and less than half a coin below it.
    model.add(coin * coins <= each * packs + coin // 2)
    model.add(coin * coins > each * packs - coin // 2)
    return coin * coins


def _delivery(
    model: cp_model.CpModel,
    supplier: Supplier,
    goods: cp_model.LinearExprT,
    takes: Sequence[cp_model.IntVar],
    scale: Decimal,
    places: int,
) -> list[cp_model.LinearExprT]:
    """The delivery charge as a cost, and the supplier's minimum order as a constraint."""
    charge = int(supplier.delivery_charge.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP) * scale)
    least = int(supplier.minimum_order * scale)
    if not charge and not least:
        return []
    ordered = model.new_bool_var("")
    for take in takes:
        model.add_implication(take, ordered)
    if least:
        model.add(goods >= least * ordered)
    if not charge:
        return []
    if supplier.free_delivery_from is None:
        return [charge * ordered]
    free = model.new_bool_var("")
    model.add_implication(free, ordered)
    model.add(goods >= int(supplier.free_delivery_from * scale) * free)
    return [charge * ordered - charge * free]
