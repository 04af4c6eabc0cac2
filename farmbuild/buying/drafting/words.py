"""Offers as a person choosing one reads them."""

from __future__ import annotations

from django.utils.translation import gettext

from farmbuild.buying.drafting.bridge import describe_item
from farmbuild.catalogue.models import Offer
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day, money
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation


def offer_words(offer: Offer, organisation: Organisation) -> str:
    """1-3/8 rail, 10': packs of 10, $13.335 each, from 100 $12.50, there in 9 days, until 3 May 2027."""
    first, *more = offer.breaks.all()
    parts = [gettext("packs of %(pack)s") % {"pack": format_count(offer.pack)}] if offer.pack > 1 else []
    parts.append(gettext("%(price)s each") % {"price": money(first.unit_price, organisation)})
    parts += [
        gettext("from %(from_quantity)s %(money)s")
        % {"from_quantity": format_count(step.from_quantity), "money": money(step.unit_price, organisation)}
        for step in more
    ]
    known = offer.lead_days is not None
    parts.append(
        gettext("there in %(lead_days)s") % {"lead_days": said_count(offer.lead_days, "day")}
        if known
        else gettext("lead time not known")
    )
    if offer.valid_until:
        parts.append(gettext("until %(day)s") % {"day": day(offer.valid_until)})
    return f"{describe_item(offer.material, offer.length, organisation)}: {', '.join(parts)}"
