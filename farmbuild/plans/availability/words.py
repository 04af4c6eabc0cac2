"""The answer in a sentence."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day, length_plain
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation
from farmbuild.plans.availability.covers import Cover
from farmbuild.plans.availability.selectors import Thing
from farmbuild.stock.words import noun_of

#: What is counted here, one and many.
NOUNS = (gettext_noop("lead day"), gettext_noop("lead days"))


def name_of(thing: Thing, organisation: Organisation) -> str:
    if thing.length is None:
        return str(thing.material)
    return f"{thing.material}, {length_plain(thing.length, organisation)}"


def order_words(thing: Thing, *, today: date) -> str:
    """order by 12 April 2027 from X (lead time 21 days); says by how many days that is late."""
    last = thing.outlook.order_by
    if last is None:
        return gettext("no supplier offers it now: add an offer, or plan again")
    if last.lead_days is None:
        return gettext("order today from %(supplier)s, whose lead time is not known: ask for it and type it") % {
            "supplier": last.supplier
        }
    lead = gettext("%(supplier)s (lead time %(days)s)") % {
        "supplier": last.supplier,
        "days": said_count(last.lead_days, "day"),
    }
    if not last.days_late:
        return gettext("order by %(day)s from %(lead)s") % {"day": day(last.day), "lead": lead}
    return gettext(
        "the last day to order was %(day)s from %(lead)s, %(days)s ago: order today, and ask for a sooner delivery"
    ) % {"day": day(last.day), "lead": lead, "days": said_count(last.days_late, "day")}


def cover_words(cover: Cover, *, today: date) -> str:
    """Draft 1-1 to X brings 60; send it by 12 April 2027."""
    if cover.sent:
        return gettext("Order %(order)s from %(supplier)s brings %(quantity)s on %(day)s") % {
            "order": cover.order,
            "supplier": cover.supplier,
            "quantity": format_count(cover.quantity),
            "day": day(cover.day),
        }
    late = (
        gettext("it should have gone out by %(day)s") % {"day": day(cover.day)}
        if cover.day < today
        else gettext("send it by %(day)s") % {"day": day(cover.day)}
    )
    return gettext("Draft %(order)s to %(supplier)s brings %(quantity)s; %(late)s") % {
        "order": cover.order,
        "supplier": cover.supplier,
        "quantity": format_count(cover.quantity),
        "late": late,
    }


def covered_words(thing: Thing, *, today: date) -> str:
    """The first order that covers it, how many more there are, and what is still to be ordered."""
    said = f" {cover_words(thing.covers[0], today=today)}."
    if more := len(thing.covers) - 1:
        said += ngettext(" %(count)s more order brings it too.", " %(count)s more orders bring it too.", more) % {
            "count": format_count(more)
        }
    if thing.to_order:
        many = said_count(thing.to_order, noun_of(thing.material, offcut=False))
        said += gettext(" For %(many)s there is no order: %(order)s.") % {
            "many": many,
            "order": order_words(thing, today=today),
        }
    return said


def short_words(thing: Thing, *, today: date) -> tuple[str, str]:
    """The answer: runs short on 3 May 2027: 14 sticks; and what more is to say, or "".

    Where an order covers it, that is named instead of the last day to order, so that nobody orders it again.
    """
    out = thing.outlook
    if out.short_on is None:
        many = said_count(out.balance, noun_of(thing.material, offcut=False))
        return ngettext(
            "Does not run short: %(many)s is left after all that is known.",
            "Does not run short: %(many)s are left after all that is known.",
            out.balance,
        ) % {"many": many}, ""
    many = said_count(out.short_by, noun_of(thing.material, offcut=False))
    more = (
        gettext(" Up to %(most_short)s are missing later.") % {"most_short": format_count(out.most_short)}
        if out.most_short > out.short_by
        else ""
    )
    said = gettext("Runs short on %(day)s: %(many)s.") % {"day": day(out.short_on), "many": many}
    if thing.covers:
        return said, f"{covered_words(thing, today=today)}{more}".strip()
    order = order_words(thing, today=today)
    return said, f"{order[:1].upper()}{order[1:]}.{more}"


def working(thing: Thing) -> list[str]:
    """How the answer was worked out."""
    sums = gettext(
        "On hand %(on_hand)s, plus %(incoming)s on sent orders, less %(held)s held for houses, "
        "less %(demand)s wanted that no sent order covers: %(balance)s at the end."
    ) % {
        "on_hand": format_count(thing.on_hand),
        "incoming": format_count(thing.incoming),
        "held": format_count(thing.held),
        "demand": format_count(thing.demand),
        "balance": format_count(thing.outlook.balance),
    }
    rule = gettext(
        "What comes on a day counts before what is taken on it (common practice, no source). What should have come"
        " before today counts from tomorrow; what should have been taken already counts today."
    )
    last = thing.outlook.order_by
    if last is None or thing.outlook.short_on is None:
        return [sums, rule]
    if last.lead_days is None:
        return [
            sums,
            rule,
            gettext("%(supplier)s has not said how long it takes, so no later day than today is safe.")
            % {"supplier": last.supplier},
        ]
    order = gettext(
        "Order by %(day)s less the %(lead_days)s of %(supplier)s, or before the offer ends. Of "
        "all offers that hold today, the latest day counts."
    ) % {
        "day": day(thing.outlook.short_on),
        "lead_days": said_count(last.lead_days, "lead day"),
        "supplier": last.supplier,
    }
    return [sums, rule, order]
