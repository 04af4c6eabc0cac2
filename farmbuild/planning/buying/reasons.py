"""Why each offer was taken: the best choice without it, in landed money and in days of arrival.

The next best of a chosen offer is found by solving the whole choice again with that offer forbidden, so that
breaks, minimum orders and free delivery of everything else are counted. Effort is deterministic, and bounded for
all offers together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from farmbuild.measure import count_noun, format_day, join_words
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.buying.model import Choice, best_offers
from farmbuild.planning.inputs import Offer, Supplier
from farmbuild.planning.netting.market import Item, Market


@dataclass(frozen=True)
class Reason:
    """One chosen offer. ``dearer``: landed money more without it, before tax; None when nothing else serves.

    ``days``: how much later (above 0) or sooner (below 0) the last of the item comes then. ``late``: whole
    days by need date that slips, with the chosen offers. ``doubt``: how far ``dearer`` may be off, because a solve
    ran out of effort; 0 when both are proven. ``refused``: other offers that do not serve, and why.
    """

    offer: Offer
    quantity: int
    #: None where the supplier has not said.
    arrival: date | None
    need_by: date
    late: Mapping[date, int]
    instead: tuple[Offer, ...]
    dearer: Decimal | None
    days: int | None
    doubt: Decimal
    refused: tuple[tuple[Offer, str], ...]

    @property
    def proven(self) -> bool:
        return self.doubt == 0


def slips(demand: Mapping[Item, Mapping[date, int]], market: Market) -> dict[Item, dict[date, int]]:
    """Need dates that nothing on offer can meet, and the days each is late; of what may come any day, none."""
    found: dict[Item, dict[date, int]] = {}
    for item, days in demand.items():
        if market.sells(item):
            first = market.first_arrival(item)
            known = all(market.arrival(offer) for offer in market.offers[item])
            late = {day: (first - day).days for day in days if known and day < first}
            if late:
                found[item] = late
    return found


def reasons(
    demand: Mapping[Item, Mapping[date, int]],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    as_of: date,
    packs: Mapping[str, int],
    *,
    places: int,
    effort: float = 5.0,
) -> tuple[Reason, ...]:
    """One reason a chosen offer, by item and offer. ``packs``: the packs taken by offer ref; ``demand`` by item
    and day; ``effort``: the deterministic limit of all solves together, a solve getting at least 0.05 of it."""
    market = Market.of(offers, as_of)
    each = max(0.05, min(1.0, effort / (len(packs) or 1)))
    best = best_offers(demand, market, suppliers, places=places, effort=each)
    late = slips(demand, market)
    found = []
    for item, days in demand.items():
        own = [o for o in market.offers.get(item, ()) if packs.get(o.ref)]
        last = _last(own, market)
        for offer in own:
            other = _without(offer, item, demand, market, suppliers, places, each)
            instead = tuple(o for o in other.offers if (o.material, o.length) == item) if other else ()
            found.append(
                Reason(
                    offer,
                    packs[offer.ref] * offer.pack,
                    market.arrival(offer),
                    min(days),
                    late.get(item, {}),
                    instead,
                    other.cost - best.cost if other else None,
                    (then - last).days if last and (then := _last(instead, market)) else None,
                    _doubt(best) + (_doubt(other) if other else Decimal(0)),
                    _refused(offer, item, offers, market, min(days), instead),
                )
            )
    return tuple(found)


def _last(offers: Sequence[Offer], market: Market) -> date | None:
    """The day on which all of them are there; None where one does not say."""
    days = [market.arrival(offer) for offer in offers]
    return None if None in days else max((day for day in days if day), default=None)


def _without(
    offer: Offer,
    item: Item,
    demand: Mapping[Item, Mapping[date, int]],
    market: Market,
    suppliers: Sequence[Supplier],
    places: int,
    effort: float,
) -> Choice | None:
    held = {supplier.code for supplier in suppliers}
    rest = tuple(o for o in market.offers[item] if o.ref != offer.ref)
    if not any(o.supplier in held for o in rest):
        return None
    smaller = replace(market, offers={**market.offers, item: rest})
    return best_offers(demand, smaller, suppliers, places=places, effort=effort)


def _doubt(choice: Choice) -> Decimal:
    return Decimal(0) if choice.optimal else choice.cost - choice.bound


def _refused(
    offer: Offer, item: Item, offers: Sequence[Offer], market: Market, day: date, instead: Sequence[Offer]
) -> tuple[tuple[Offer, str], ...]:
    """Why other offers of the same thing do not serve: expired, or there after the first need."""
    taken = {offer.ref, *(o.ref for o in instead)}
    refused = []
    for o in sorted(offers, key=lambda o: (o.supplier, o.ref)):
        if (o.material, o.length) != item or o.ref in taken:
            continue
        if o.valid_until is not None and o.valid_until < market.as_of:
            refused.append((o, sentence("its offer ended on %(day)s", day=format_day(o.valid_until))))
        elif (there := market.arrival(o)) and there > day:
            refused.append((o, sentence("not there before %(day)s", day=format_day(there))))
    return tuple(refused)


def told(reason: Reason, names: Mapping[str, str], money: Callable[[Decimal], str]) -> str:
    """The reason in plain English; ``names`` of suppliers by code, ``money`` as it is to be read. Before tax."""
    o = reason.offer
    parts = [
        sentence(
            "%(supplier)s: %(quantity)s, %(there)s (first need %(day)s).",
            supplier=names.get(o.supplier, o.supplier),
            quantity=reason.quantity,
            there=_there(reason.arrival),
            day=format_day(reason.need_by),
        )
    ]
    for day, late in reason.late.items():
        slip = {"day": format_day(day), "days": count_noun(late, "day")}
        parts.append(sentence("The need of %(day)s slips by %(days)s.", **slip))
    if reason.dearer is None:
        parts.append(sentence("No other offer can serve."))
    else:
        who = join_words(dict.fromkeys(names.get(i.supplier, i.supplier) for i in reason.instead))
        worth, when = _worth(reason.dearer, money), _when(reason.days)
        parts.append(sentence("Next best: %(who)s, %(worth)s, %(when)s.", who=who, worth=worth, when=when))
    if reason.refused:
        refused = (
            sentence("%(supplier)s: %(why)s", supplier=names.get(o.supplier, o.supplier), why=why)
            for o, why in reason.refused
        )
        parts.append(joined("; ", refused) + ".")
    if not reason.proven:
        off = money(reason.doubt)
        parts.append(sentence("Not proven: the difference may be off by %(money)s.", money=off))
    return joined(" ", parts)


def _worth(dearer: Decimal, money: Callable[[Decimal], str]) -> str:
    if not dearer:
        return sentence("as dear")
    if dearer > 0:
        return sentence("%(money)s dearer", money=money(dearer))
    return sentence("%(money)s cheaper", money=money(-dearer))


def _when(days: int | None) -> str:
    if days is None:
        return sentence("lead time not known")
    if not days:
        return sentence("the same day")
    if days > 0:
        return sentence("%(days)s later", days=count_noun(days, "day"))
    return sentence("%(days)s sooner", days=count_noun(-days, "day"))


def _there(day: date | None) -> str:
    return sentence("there by %(day)s", day=format_day(day)) if day else sentence("lead time not known")
