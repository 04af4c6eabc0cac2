"""The choice of offers as an integer program, solved exactly with CP-SAT.

For offer o and price step k: packs n, at least what the step asks and at most one step an offer, at the
step's price. For every need date, what arrives by then covers all that is needed until then. For every
supplier: goods reach the minimum order, and delivery is charged unless goods reach the free level. Goods are the
sum of lines, each rounded half up to whole coins, as on the order. One worker, a fixed seed and a deterministic
limit make the same input give the same answer.

Sticks that are cut may be left open: then their number is chosen too, under what is known of every cut plan
(``OpenCuts``). That leaves out how pieces fit together, so it is a bound and a suggestion, and no order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from ortools.sat.python import cp_model

from farmbuild.planning.inputs import Offer, Supplier
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.solver import plain_solver


@dataclass(frozen=True)
class OpenCuts:
    """The sticks of one cut plan, by length as ``lengths`` has them; money in coins.

    Of each ``most`` are of use, all by ``last`` at the latest. ``least``: (prices, bound), however it is cut, sticks at
    these prices and the charge for the yard's come to that bound or more. ``short``: (sticks, charge), with no more
    than these sticks of each length the charge is that or more, or (None) some piece is missing.
    """

    material: str
    lengths: tuple[Decimal, ...]
    most: tuple[int, ...]
    last: date
    least: tuple[tuple[tuple[int, ...], int], ...]
    short: tuple[tuple[tuple[int, ...], int | None], ...] = ()


@dataclass(frozen=True)
class Choice:
    """``packs`` above 0 by offer ref; ``offers`` in item order. ``cost`` is what the orders come to before tax, and the
    charges of ``OpenCuts``; ``sticks`` those that these were given, and ``charges`` in coins."""

    offers: tuple[Offer, ...]
    packs: Mapping[str, int]
    cost: Decimal
    bound: Decimal
    optimal: bool
    sticks: tuple[tuple[int, ...], ...] = ()
    charges: tuple[int, ...] = ()
    effort: float = 0.0


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
    cuts: Sequence[OpenCuts] = (),
) -> Choice:
    """Least goods plus delivery. ``demand``: quantity by item and day; every item is on offer. ``places``: of
    a coin. ``cuts``: sticks that are wanted besides, as many as is cheapest.

    Raises ValueError when an item is not on offer.
    """
    missing = [item for item in demand if not market.sells(item)]
    if missing:
        raise ValueError(f"nobody offers {missing[0][0]}")
    held = {supplier.code: supplier for supplier in suppliers}
    wanted = {item: dict(days) for item, days in demand.items()}
    for cut in cuts:
        for length in cut.lengths:
            wanted.setdefault((cut.material, length), {}).setdefault(cut.last, 0)
    offers = [o for item in wanted for o in market.offers[item] if o.supplier in held]
    if not offers and not cuts:
        return Choice((), {}, Decimal(0), Decimal(0), True)
    used = [held[code] for code in sorted({o.supplier for o in offers})]
    scale = _scale(offers, used, places)
    if cuts:
        scale = max(scale, Decimal(10) ** places)
    coin = int(scale) // 10**places
    model = cp_model.CpModel()
    open_ = [_open(model, cut) for cut in cuts]
    free: dict[Item, list[tuple[date, cp_model.IntVar]]] = {}
    for cut, (sticks, _) in zip(cuts, open_, strict=True):
        for length, n in zip(cut.lengths, sticks, strict=True):
            free.setdefault((cut.material, length), []).append((cut.last, n))
    packs: dict[str, list[tuple[_Step, cp_model.IntVar]]] = {}
    chosen: dict[str, list[cp_model.IntVar]] = {s.code: [] for s in used}
    for item, days in wanted.items():
        total = sum(days.values()) + sum(_most(cut, item[1]) for cut in cuts if cut.material == item[0])
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
        _cover(model, item, days, free.get(item, ()), market, packs)
        if not any(days.values()):
            # What nobody wants is not bought to reach a minimum.
            wanted_at_all = model.new_bool_var("")
            model.add(sum(n for _, n in free.get(item, ())) >= wanted_at_all)
            for offer in market.offers[item]:
                for _, n in packs.get(offer.ref, ()):
                    model.add(n == 0).only_enforce_if(~wanted_at_all)
    cost = []
    for supplier in used:
        own = [(o, step, n) for o in offers if o.supplier == supplier.code for step, n in packs[o.ref]]
        goods = sum(_line(model, o, step, n, scale, places) for o, step, n in own)
        cost += [goods, *_delivery(model, supplier, goods, chosen[supplier.code], scale, places)]
    cost += [coin * charge for _, charge in open_]
    model.minimize(sum(cost))
    solver = plain_solver()
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
        tuple(tuple(solver.value(n) for n in sticks) for sticks, _ in open_),
        tuple(solver.value(charge) for _, charge in open_),
        solver.response_proto.deterministic_time,
    )


def _most(cut: OpenCuts, length: Decimal | None) -> int:
    return sum(most for own, most in zip(cut.lengths, cut.most, strict=True) if own == length)


def _open(model: cp_model.CpModel, cut: OpenCuts) -> tuple[list[cp_model.IntVar], cp_model.IntVar]:
    """How many sticks of each length are bought to be cut, and what the yard's are charged at."""
    sticks = [model.new_int_var(0, most, "") for most in cut.most]
    known = [bound for _, bound in cut.least] + [charge for _, charge in cut.short if charge is not None]
    charge = model.new_int_var(0, max([0, *known]), "")
    for prices, bound in cut.least:
        model.add(sum(price * n for price, n in zip(prices, sticks, strict=True)) + charge >= bound)
    for few, least in cut.short:
        ways = []
        for n, too_few, most in zip(sticks, few, cut.most, strict=True):
            if too_few < most:
                more = model.new_bool_var("")
                model.add(n >= too_few + 1).only_enforce_if(more)
                ways.append(more)
        if least is not None:
            dearer = model.new_bool_var("")
            model.add(charge >= least).only_enforce_if(dearer)
            ways.append(dearer)
        model.add_bool_or(ways)
    return sticks, charge


def _scale(offers: Sequence[Offer], suppliers: Sequence[Supplier], places: int) -> Decimal:
    """The power of ten that makes every amount whole, and half a coin too."""
    amounts = [step.unit_price for offer in offers for step in offer.breaks]
    for supplier in suppliers:
        amounts += [supplier.delivery_charge, supplier.minimum_order]
        if supplier.free_delivery_from is not None:
            amounts.append(supplier.free_delivery_from)
    # Of no amounts at all, where every stick that may be cut lies in the yard, whole coins are fine enough.
    finest = max([0, *(-int(a.normalize().as_tuple().exponent) for a in amounts)])
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
    free: Sequence[tuple[date, cp_model.IntVar]],
    market: Market,
    packs: Mapping[str, list[tuple[_Step, cp_model.IntVar]]],
) -> None:
    """What arrives by each day covers all that is needed until then; a day that nothing reaches waits for the
    first arrival. ``free``: numbers to be chosen, with the day by which they are needed."""
    offers = [o for o in market.offers[item] if o.ref in packs]
    first = market.first_of(offers)
    until: dict[date, int] = {}
    so_far = 0
    for day, quantity in sorted(days.items()):
        so_far += quantity
        until[max(day, first)] = so_far
    for day, quantity in until.items():
        arrived = [o.pack * n for o in offers if market.there_by(o, day) for _, n in packs[o.ref]]
        more = [n for own, n in free if max(own, first) <= day]
        model.add(sum(arrived) >= quantity + sum(more))


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
