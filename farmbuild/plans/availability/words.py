"""The answer in a sentence."""

from __future__ import annotations

from datetime import date

from farmbuild.common.templatetags.farm import day, length_plain
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation
from farmbuild.plans.availability.selectors import Thing
from farmbuild.stock.words import noun_of


def name_of(thing: Thing, organisation: Organisation) -> str:
    if thing.length is None:
        return str(thing.material)
    return f"{thing.material}, {length_plain(thing.length, organisation)}"


def order_words(thing: Thing, *, today: date) -> str:
    """order by 12 April 2027 from X (lead time 21 days); says by how many days that is late."""
    last = thing.outlook.order_by
    if last is None:
        return "no supplier offers it now: add an offer, or plan again"
    lead = f"{last.supplier} (lead time {count_noun(last.lead_days, 'day')})"
    if not last.days_late:
        return f"order by {day(last.day)} from {lead}"
    return (
        f"the last day to order was {day(last.day)} from {lead}, {count_noun(last.days_late, 'day')} ago:"
        " order today, and ask for a sooner delivery"
    )


def short_words(thing: Thing, *, today: date) -> str:
    """Runs short on 3 May 2027: 14 sticks; order by 12 April 2027 from X (lead time 21 days)."""
    out = thing.outlook
    if out.short_on is None:
        many = count_noun(out.balance, noun_of(thing.material, offcut=False))
        return f"Does not run short: {many} {'is' if out.balance == 1 else 'are'} left after all that is known."
    many = count_noun(out.short_by, noun_of(thing.material, offcut=False))
    more = f" Later {out.most_short:,} are missing at the most." if out.most_short > out.short_by else ""
    return f"Runs short on {day(out.short_on)}: {many}; {order_words(thing, today=today)}.{more}"


def working(thing: Thing) -> list[str]:
    """How the answer was worked out."""
    sums = (
        f"On hand {thing.on_hand:,}, plus {thing.incoming:,} on sent orders, less {thing.held:,} held for"
        f" houses, less {thing.demand:,} wanted that no sent order covers: {thing.outlook.balance:,} at the end."
    )
    rule = (
        "What comes on a day counts before what is taken on it (common practice, no source). What should have come"
        " before today counts from tomorrow; what should have been taken already counts today."
    )
    last = thing.outlook.order_by
    if last is None or thing.outlook.short_on is None:
        return [sums, rule]
    order = (
        f"Order by {day(thing.outlook.short_on)} less the {count_noun(last.lead_days, 'lead day')} of {last.supplier},"
        " or before the offer ends. Of all offers that hold today, the latest day counts."
    )
    return [sums, rule, order]
