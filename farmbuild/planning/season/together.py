"""Offers, cuts and price breaks chosen together: a better plan where there is one, and a bound for all of it.

The cut plans rest on prices, and the prices on how many sticks the cut plans take together with what is ordered whole.
So the offers are chosen once more with the number of sticks left open, under what is known of every cut plan (Benders,
Numerische Mathematik 4, 1962). That choice costs no more than the best plan can: it is the bound. Each round cuts from
the sticks that it names, and at the prices that it reaches; what is learned makes the next bound higher. It ends when
plan and bound meet, or the work allowed is done.

Given, and no part of the choice: whole sticks and counted things are taken from the yard where it has them, and from
common stock where no offer is cheaper; joined runs have the sticks of ``netting/runs.py``; pieces that are needed
before other sticks can arrive are cut apart; and the yard's sticks that are cut cost what ``netting/cuts.py`` charges
for them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import ROUND_CEILING, Decimal

from farmbuild.measure.money import from_minor, places, to_minor
from farmbuild.planning.buying.model import Choice, OpenCuts, best_offers
from farmbuild.planning.buying.plan import demand_by_day
from farmbuild.planning.inputs import Supplier
from farmbuild.planning.materials import Material
from farmbuild.planning.netting.cuts import Batch, CutResult, Saw, Terms, cut_material
from farmbuild.planning.netting.market import Market, break_price
from farmbuild.planning.netting.plan import Netting
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import TogetherSummary

MAX_ROUNDS = 25
#: Work of all rounds together: of the cut plans, and of the choice of offers.
CUT_EFFORT = 2.0
OFFER_EFFORT = 6.0
#: Of the first cut plan's work, what one that is planned again may take.
AGAIN = 0.25
#: Where cut plans are not proven themselves, plan and bound never meet: under one part in so many it is left.
NEAR_ENOUGH = 1_000

_Key = tuple[str, int]


@dataclass
class _Known:
    """What holds of every way to cut one batch, as ``OpenCuts`` has it."""

    least: dict[tuple[int, ...], int] = field(default_factory=dict)
    short: dict[tuple[int, ...], int | None] = field(default_factory=dict)


@dataclass(frozen=True)
class _Try:
    """A whole plan: the cuts by material, what they leave of the yard, and the offers. ``cost`` in coins."""

    cuts: Mapping[str, CutResult]
    left: Mapping[str, int]
    choice: Choice
    cost: int


@dataclass
class _Rounds:
    netting: Netting
    materials: Mapping[str, Material]
    yard: Yard
    market: Market
    suppliers: Sequence[Supplier]
    saw: Saw
    cut_effort: float = CUT_EFFORT
    offer_effort: float = OFFER_EFFORT
    known: dict[_Key, _Known] = field(default_factory=dict)

    def learn(self, cuts: Mapping[str, CutResult]) -> None:
        for material, result in cuts.items():
            for n, batch in enumerate(result.batches):
                known = self.known.setdefault((material, n), _Known())
                if not batch.terms.paid:
                    known.least[batch.terms.prices] = max(batch.bound, known.least.get(batch.terms.prices, 0))
                elif batch.bound >= batch.terms.fine:
                    known.short[batch.terms.paid] = None
                else:
                    known.short[batch.terms.paid] = batch.bound

    def bought(self, cuts: Mapping[str, CutResult]) -> _Try:
        """The offers for these cuts, which the yard is left by."""
        needs = replace(self.netting, cuts=dict(cuts)).needs
        choice = best_offers(
            demand_by_day(needs), self.market, self.suppliers, places=places(self.saw.currency), effort=20.0
        )
        charge = sum(batch.charge for result in cuts.values() for batch in result.batches)
        return _Try(cuts, dict(self.yard.left), choice, to_minor(choice.cost, self.saw.currency) + charge)

    def open_choice(self, cuts: Mapping[str, CutResult], effort: float) -> Choice:
        open_ = [
            OpenCuts(
                material=material,
                lengths=batch.lengths,
                most=batch.most,
                last=batch.days[1],
                least=tuple(self.known[material, n].least.items()),
                short=tuple(
                    (few, charge)
                    for few, charge in self.known[material, n].short.items()
                    if charge is not None or any(a < b for a, b in zip(few, batch.most, strict=True))
                ),
            )
            for material, n, batch in _batches(cuts)
        ]
        demand = demand_by_day(self.netting.whole)
        choice = best_offers(
            demand, self.market, self.suppliers, places=places(self.saw.currency), effort=effort, cuts=open_
        )
        self.offer_effort -= choice.effort
        return choice

    def cut_again(self, old: _Try, terms: Mapping[_Key, Terms]) -> _Try | None:
        """A plan with these batches cut by other terms; None where nothing changes."""
        new = dict(old.cuts)
        self.yard.left.update(old.left)
        for material in dict.fromkeys(material for material, _ in terms):
            for lot in self.yard.every(material):
                self.yard.left[lot.ref] = self.netting.uncut[lot.ref]
            batches = old.cuts[material].batches
            asked = [terms.get((material, n), batch.terms) for n, batch in enumerate(batches)]
            new[material] = cut_material(
                self.materials[material],
                self.netting.to_cut[material],
                self.yard,
                self.market,
                replace(self.saw, effort=AGAIN * self.saw.effort),
                ordered=self.netting.ordered,
                terms=asked,
            )
            self.cut_effort -= sum(batch.effort for batch in new[material].batches)
        self.learn({material: new[material] for material, _ in terms})
        same = all(
            (a.bought, a.charge) == (b.bought, b.charge)
            for (_, _, a), (_, _, b) in zip(_batches(old.cuts), _batches(new), strict=True)
        )
        return None if same else self.bought(new)

    def proven(self, material: str, result: CutResult) -> CutResult:
        """The summary of a cut plan at the prices that it reckons with, against the least that is known of these."""
        cost = sum(batch.cost for batch in result.batches)
        known = [self.known[material, n].least.get(batch.terms.prices, 0) for n, batch in enumerate(result.batches)]
        bound = min(cost, sum(known))
        currency = self.saw.currency
        # A plan that was cut by other prices is proven by these where it leaves no piece out.
        optimal = bound == cost and (result.summary.optimal or not result.unmet)
        summary = replace(
            result.summary, cost=from_minor(cost, currency), bound=from_minor(bound, currency), optimal=optimal
        )
        return replace(result, summary=summary)


def _batches(cuts: Mapping[str, CutResult]) -> list[tuple[str, int, Batch]]:
    return [(material, n, batch) for material, result in cuts.items() for n, batch in enumerate(result.batches)]


def _cuts_proven(tried: _Try) -> bool:
    return all(result.summary.optimal for result in tried.cuts.values())


def choose_together(
    netting: Netting,
    materials: Mapping[str, Material],
    yard: Yard,
    market: Market,
    suppliers: Sequence[Supplier],
    saw: Saw,
) -> tuple[TogetherSummary, Choice]:
    """Cut again, in ``netting`` and ``yard``, where offers and cuts chosen together are cheaper; and the offers.

    The same input gives the same plan.
    """
    rounds = _Rounds(netting, materials, yard, market, suppliers, saw)
    rounds.learn(netting.cuts)
    best = rounds.bought(netting.cuts)
    bound = 0
    for _ in range(MAX_ROUNDS):
        if rounds.offer_effort <= 0 or saw.is_ended:
            break
        try:
            relaxed = rounds.open_choice(best.cuts, rounds.offer_effort)
        except RuntimeError:
            break
        bound = max(bound, int((relaxed.bound * 10 ** places(saw.currency)).to_integral_value(ROUND_CEILING)))
        near = (best.cost - bound) * NEAR_ENOUGH <= best.cost and not _cuts_proven(best)
        if bound >= best.cost or near or rounds.cut_effort <= 0:
            break
        follow, at_prices = _terms(best, relaxed, rounds)
        if not follow and not at_prices:
            break
        for terms in (at_prices, follow):
            if terms and (found := rounds.cut_again(best, terms)) and found.cost < best.cost:
                best = found
    netting.cuts = {material: rounds.proven(material, result) for material, result in best.cuts.items()}
    yard.left.update(best.left)
    bound = min(bound, best.cost)
    summary = TogetherSummary(from_minor(best.cost, saw.currency), from_minor(bound, saw.currency), bound == best.cost)
    return summary, best.choice


def _terms(best: _Try, relaxed: Choice, rounds: _Rounds) -> tuple[dict[_Key, Terms], dict[_Key, Terms]]:
    """What to cut from next: the sticks that the open choice names, and any at the prices that it reaches."""
    price: dict[tuple[str, Decimal | None], int] = {}
    for offer in relaxed.offers:
        item = (offer.material, offer.length)
        coins = rounds.saw.coins(break_price(offer, relaxed.packs[offer.ref] * offer.pack))
        price[item] = max(coins, price.get(item, 0))
    follow: dict[_Key, Terms] = {}
    at_prices: dict[_Key, Terms] = {}
    for (material, n, batch), sticks, charge in zip(_batches(best.cuts), relaxed.sticks, relaxed.charges, strict=True):
        if not batch.lengths:
            continue
        known = rounds.known[material, n]
        prices = tuple(
            price.get((material, length), own) for length, own in zip(batch.lengths, batch.terms.prices, strict=True)
        )
        if prices not in known.least:
            at_prices[material, n] = Terms(prices)
        else:
            prices = batch.terms.prices
        if (sticks, charge) != (batch.bought, batch.charge) and sticks not in known.short:
            follow[material, n] = Terms(prices, sticks, fine=best.cost + 1)
    return follow, at_prices
