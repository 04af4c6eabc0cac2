"""Offers as a person choosing one reads them."""

from __future__ import annotations

from farmbuild.buying.drafting.bridge import describe_item
from farmbuild.catalogue.models import Offer
from farmbuild.common.templatetags.farm import day, money
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.models import Organisation


def offer_words(offer: Offer, organisation: Organisation) -> str:
    """1-3/8 rail, 10': packs of 10, $13.335 each, from 100 $12.50, there in 9 days, until 3 May 2027."""
    first, *more = offer.breaks.all()
    parts = [f"packs of {format_count(offer.pack)}"] if offer.pack > 1 else []
    parts.append(f"{money(first.unit_price, organisation)} each")
    parts += [f"from {format_count(step.from_quantity)} {money(step.unit_price, organisation)}" for step in more]
    known = offer.lead_days is not None
    parts.append(f"there in {count_noun(offer.lead_days, 'day')}" if known else "lead time not known")
    if offer.valid_until:
        parts.append(f"until {day(offer.valid_until)}")
    return f"{describe_item(offer.material, offer.length, organisation)}: {', '.join(parts)}"
