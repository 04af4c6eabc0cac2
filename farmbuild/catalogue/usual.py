"""What a material usually costs and how long its pieces are, and the question where something is far from it."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from statistics import median_low
from typing import Any, NamedTuple

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.models import Material, PriceBreak, check_longest
from farmbuild.measure import UnitSystem, amounts_shown, format_count, format_length, format_money, round_money
from farmbuild.orgs.models import Organisation

#: So many times above or below what is usual is worth a question (our own choice).
FAR = 10
#: As many of the latest prices and lots as say what is usual.
_LATEST = 60


class Priced(NamedTuple):
    price: Decimal
    length: Decimal | None


def usual_of(*, organisation: Organisation, material: Material) -> list[Priced]:
    """The latest prices of offers and costs of whole pieces in stock."""
    offered = PriceBreak.objects.filter(offer__organisation=organisation, offer__material=material)
    bought = material.lots.filter(organisation=organisation, offcut=False)
    pairs = [
        *offered.order_by("-pk").values_list("unit_price", "offer__length")[:_LATEST],
        *bought.order_by("-pk").values_list("unit_cost", "length")[:_LATEST],
    ]
    return [Priced(price, length) for price, length in pairs]


def price_question(material: Material, price: Decimal | None, length: Decimal | None, known: Iterable[Priced]) -> str:
    """Asks where a piece of that length costs far more or less than others do by their length; "" where not.

    Nothing is asked of a reader to whom costs are not shown.
    """
    by_length = material.by_length and bool(length)
    sold = [row for row in known if row.price > 0 and (row.length or not by_length)]
    if not price or not sold or not amounts_shown():
        return ""
    usual = median_low(row.price / row.length * length if by_length else row.price for row in sold)
    if not (times := _times(price, usual)):
        return ""
    currency = material.organisation.currency
    shown = format_money(max(round_money(usual, currency), usual.quantize(Decimal("0.0001"))), currency)
    return gettext("%(price)s is %(times)s what %(material)s usually costs, %(shown)s. Is it right?") % {
        "price": format_money(price, currency),
        "times": times,
        "material": material,
        "shown": shown,
    }


def length_question(material: Material, length: Decimal | None, known: Iterable[Priced]) -> str:
    """Asks where a whole piece is far longer or shorter than others; "" where not, or where it is refused anyway."""
    lengths = [row.length for row in known if row.length]
    if not length or not lengths:
        return ""
    try:
        check_longest(material, length)
    except ValidationError:
        return ""
    usual = median_low(lengths)
    if not (times := _times(length, usual)):
        return ""
    system = UnitSystem(material.organisation.unit_system)
    said, shown = format_length(length, system), format_length(usual, system)
    return gettext("%(said)s is %(times)s the usual length of %(material)s, %(shown)s. Is it right?") % {
        "said": said,
        "times": times,
        "material": material,
        "shown": shown,
    }


def _times(value: Decimal, usual: Decimal) -> str:
    """100 times, or 1/100 of; "" where it is not far."""
    if value > usual * FAR:
        return gettext("%(count)s times") % {"count": format_count(round(value / usual))}
    if value * FAR < usual:
        return gettext("1/%(count)s of") % {"count": format_count(round(usual / value))}
    return ""


def answer_if_usual(
    sender: Any, *, organisation: Organisation, material: str, kind: str, value: Decimal | None, **more: Any
) -> str:
    """What a page asks of a box before it is sent; ``material`` is a key as the page has it."""
    found = Material.objects.of(organisation).filter(pk=material).first() if material.isdecimal() else None
    if found is None:
        return ""
    found.organisation = organisation
    known = usual_of(organisation=organisation, material=found)
    if kind == "money":
        return price_question(found, value, more.get("length"), known)
    return length_question(found, value, known) if kind == "length" else ""
