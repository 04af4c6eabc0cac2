"""The answer in a sentence."""

from __future__ import annotations

from datetime import date

from farmbuild.common.templatetags.farm import day, length_plain
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.models import Organisation
from farmbuild.plans.availability.covers import Cover
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
    if last.lead_days is None:
        return f"order today from {last.supplier}, whose lead time is not known: ask for it and type it"
    lead = f"{last.supplier} (lead time {count_noun(last.lead_days, 'day')})"
    if not last.days_late:
        return f"order by {day(last.day)} from {lead}"
    return (
        f"the last day to order was {day(last.day)} from {lead}, {count_noun(last.days_late, 'day')} ago:"
        " order today, and ask for a sooner delivery"
    )


def cover_words(cover: Cover, *, today: date) -> str:
    """Draft 1-1 to X brings 60; send it by 12 April 2027."""
    if cover.sent:
        return f"Order {cover.order} from {cover.supplier} brings {format_count(cover.quantity)} on {day(cover.day)}"
    late = f"it should have gone out by {day(cover.day)}" if cover.day < today else f"send it by {day(cover.day)}"
    return f"Draft {cover.order} to {cover.supplier} brings {format_count(cover.quantity)}; {late}"


def covered_words(thing: Thing, *, today: date) -> str:
    """The first order that covers it, how many more there are, and what is still to be ordered."""
    said = f" {cover_words(thing.covers[0], today=today)}."
    if more := len(thing.covers) - 1:
        said += f" {count_noun(more, 'more order')} {'brings' if more == 1 else 'bring'} it too."
    if thing.to_order:
        many = count_noun(thing.to_order, noun_of(thing.material, offcut=False))
        said += f" For {many} there is no order: {order_words(thing, today=today)}."
    return said


def short_words(thing: Thing, *, today: date) -> tuple[str, str]:
    """The answer: runs short on 3 May 2027: 14 sticks; and what more is to say, or "".

    Where an order covers it, that is named instead of the last day to order, so that nobody orders it again.
    """
    out = thing.outlook
    if out.short_on is None:
        many = count_noun(out.balance, noun_of(thing.material, offcut=False))
        return f"Does not run short: {many} {'is' if out.balance == 1 else 'are'} left after all that is known.", ""
    many = count_noun(out.short_by, noun_of(thing.material, offcut=False))
    more = f" Up to {format_count(out.most_short)} are missing later." if out.most_short > out.short_by else ""
    said = f"Runs short on {day(out.short_on)}: {many}."
    if thing.covers:
        return said, f"{covered_words(thing, today=today)}{more}".strip()
    order = order_words(thing, today=today)
    return said, f"{order[:1].upper()}{order[1:]}.{more}"


def working(thing: Thing) -> list[str]:
    """How the answer was worked out."""
    sums = (
        f"On hand {format_count(thing.on_hand)}, plus {format_count(thing.incoming)} on sent orders,"
        f" less {format_count(thing.held)} held for"
        f" houses, less {format_count(thing.demand)} wanted that no sent order covers:"
        f" {format_count(thing.outlook.balance)} at the end."
    )
    rule = (
        "What comes on a day counts before what is taken on it (common practice, no source). What should have come"
        " before today counts from tomorrow; what should have been taken already counts today."
    )
    last = thing.outlook.order_by
    if last is None or thing.outlook.short_on is None:
        return [sums, rule]
    if last.lead_days is None:
        return [sums, rule, f"{last.supplier} has not said how long it takes, so no later day than today is safe."]
    order = (
        f"Order by {day(thing.outlook.short_on)} less the {count_noun(last.lead_days, 'lead day')} of {last.supplier},"
        " or before the offer ends. Of all offers that hold today, the latest day counts."
    )
    return [sums, rule, order]
