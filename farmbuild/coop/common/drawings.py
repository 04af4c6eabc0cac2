"""Common stock as bars, a group an item: filled what is free, dashed what members asked for or got."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.coop.common.words import lot_item_words
from farmbuild.coop.joint.drawings import Bar, Bars, bars_drawn
from farmbuild.coop.models import CommonOffer
from farmbuild.orgs.models import Organisation

#: Bars beyond these would push the table off every phone.
MOST = 8


def offers_drawn(offers: Iterable[CommonOffer], organisation: Organisation) -> SafeString | str:
    """``offers`` have ``left``; the first of them, lots of one item beside each other. Empty where there is nothing."""
    groups: dict[str, list[Bar]] = {}
    for offer in [*offers][:MOST]:
        bar = Bar(gettext("lot %(lot)s") % {"lot": offer.lot.reference}, offer.quantity, offer.left)
        groups.setdefault(lot_item_words(offer.lot, organisation), []).append(bar)
    return bars_drawn([Bars(what, bars) for what, bars in groups.items()], gettext("Stock that is open to members"))


def open_drawn(offers: Iterable[CommonOffer], organisation: Organisation) -> SafeString | str:
    """As a member sees it: pieces that it may ask for, and nothing of who asked for the rest."""
    groups: dict[str, list[Bar]] = {}
    for offer in [*offers][:MOST]:
        if offer.left:
            bars = groups.setdefault(lot_item_words(offer.lot, organisation), [])
            bars.append(Bar(gettext("lot %(lot)s") % {"lot": offer.lot.reference}, offer.left))
    return bars_drawn([Bars(what, bars) for what, bars in groups.items()], gettext("Stock that is open to you"))
