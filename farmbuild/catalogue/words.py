"""Prices for reading."""

from collections.abc import Iterable
from decimal import Decimal

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.catalogue.bridge import film_size, fine_size
from farmbuild.catalogue.models import Material, Offer, OfferRecord
from farmbuild.common.money import format_amount
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation

PIECE_NOUNS = {
    Material.Kind.TUBE: "stick",
    Material.Kind.LUMBER: "board",
    Material.Kind.FILM: "roll",
    Material.Kind.CHANNEL: "length of channel",
}


def piece_noun(kind: str) -> str:
    """What one of a material is called in the yard: a piece, where it is merely counted."""
    return PIECE_NOUNS.get(Material.Kind(kind), "piece")


def size_in_words(length: Decimal, organisation: Organisation) -> SafeString:
    """A small size in the reader's units with the other beside it; walls and films are thinner than 1/16 in."""
    return _both(*fine_size(length, organisation))


def thickness_in_words(material: Material) -> SafeString:
    """Of a material that has one: a film as it is sold, all else as sizes are."""
    if material.kind == Material.Kind.FILM:
        return _both(*film_size(material.thickness, material.organisation))
    return size_in_words(material.thickness, material.organisation)


def _both(own: str, other: str) -> SafeString:
    return format_html('<span class="length">{} <small>{}</small></span>', own, other)


def prices_in_words(offer: Offer, currency: str) -> str:
    """14.60; from 50: 13.40; from 200: 12.75. ``breaks`` come loaded, smallest amount first."""
    return breaks_in_words(((row.from_quantity, row.unit_price) for row in offer.breaks.all()), currency)


def record_prices(record: OfferRecord, currency: str) -> str:
    return breaks_in_words(record.breaks, currency)


def breaks_in_words(breaks: Iterable[tuple[int, Decimal]], currency: str) -> str:
    return "; ".join(
        format_amount(price, currency)
        if amount == 1
        else gettext("from %(amount)s: %(price)s")
        % {"amount": format_count(amount), "price": format_amount(price, currency)}
        for amount, price in breaks
    )
