"""What pages of quotes show, gathered once: options side by side, and the lines of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.speaking import said, said_list
from farmbuild.common.strips import Part, strip
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count, format_decimal, format_money, line_total, share_out
from farmbuild.quotes.models import Job, Option, Quote, QuoteLine
from farmbuild.quotes.pricing.bridge import (
    PART_NAMES,
    PARTS,
    Difference,
    PartKind,
    PricedOption,
    difference,
    price_lines,
)
from farmbuild.quotes.pricing.selectors import whole_quotes_for

_DRAWN = {PartKind.MATERIALS: "cut", PartKind.WORK: "other", PartKind.EQUIPMENT: "end"}


@dataclass(frozen=True)
class PartShown:
    key: str
    name: str
    cost: Decimal
    contingency: Decimal
    price: Decimal
    tax: Decimal


@dataclass(frozen=True)
class DifferenceShown:
    """``parts`` and ``lines``: (name, amount); above 0 the option costs more. ``words``: in one sentence."""

    words: str
    parts: list[tuple[str, Decimal]]
    total: Decimal
    lines: list[tuple[str, str, Decimal]]


@dataclass(frozen=True)
class OptionShown:
    option: Option
    priced: PricedOption
    houses: str
    parts: list[PartShown]
    bar: SafeString
    unlike: DifferenceShown | None

    @property
    def before_tax(self) -> Decimal:
        return self.priced.priced.before_tax

    @property
    def tax(self) -> Decimal:
        return self.priced.priced.tax

    @property
    def total(self) -> Decimal:
        return self.priced.priced.total

    @property
    def cost(self) -> Decimal:
        return self.priced.priced.cost

    @property
    def contingency(self) -> Decimal:
        return self.priced.priced.contingency


def options_shown(quote: Quote) -> list[OptionShown]:
    """Each with its difference from the one that it was made from, else from the first. ``quote`` comes whole."""
    options = list(quote.options.all())
    priced = {option.pk: price_lines(quote, option.lines.all(), quote.currency) for option in options}
    widest = max((found.priced.before_tax for found in priced.values()), default=Decimal(0))
    names = {option.pk: option for option in options}
    found = []
    for option in options:
        base = names.get(option.based_on_id) or options[0]
        own = priced[option.pk]
        unlike = None
        if base.pk != option.pk:
            unlike = _difference(option, base, difference(own, priced[base.pk], quote.currency), quote.currency)
        found.append(
            OptionShown(option, own, _houses(option), parts_shown(own), _bar(option, own, widest, quote), unlike)
        )
    return found


def parts_shown(priced: PricedOption) -> list[PartShown]:
    return [
        PartShown(part.kind.value, PART_NAMES[part.kind], part.cost, part.contingency, part.price, part.tax)
        for part in priced.priced.parts
    ]


def _houses(option: Option) -> str:
    rows = [
        row.name
        if row.quantity == 1
        else gettext("%(name)s, %(count)s times") % {"name": row.name, "count": format_count(row.quantity)}
        for row in option.houses.all()
    ]
    return said_list(rows) if rows else gettext("no house; lines by hand")


def _bar(option: Option, priced: PricedOption, widest: Decimal, quote: Quote) -> SafeString:
    parts, at = [], Decimal(0)
    for part in priced.priced.parts:
        if part.price:
            parts.append(Part(at, part.price, str(PART_NAMES[part.kind]).split()[0], _DRAWN[part.kind]))
            at += part.price
    if not parts:
        return SafeString("")
    told = ", ".join(
        f"{str(PART_NAMES[part.kind]).lower()} {format_money(part.price, quote.currency)}"
        for part in priced.priced.parts
    )
    return strip(
        f"option-{option.position}",
        parts,
        (),
        widest,
        gettext("Price of %(option)s") % {"option": option.name},
        gettext("Before tax: %(told)s.") % {"told": told},
    )


def _difference(option: Option, base: Option, found: Difference, currency: str) -> DifferenceShown:
    parts = [(PART_NAMES[kind], amount) for kind, amount in found.parts.items()] + [(gettext("Tax"), found.tax)]
    if found.total:
        words = (
            gettext("%(option)s costs %(money)s more than %(base)s")
            if found.total > 0
            else gettext("%(option)s costs %(money)s less than %(base)s")
        ) % {"option": option.name, "money": format_money(abs(found.total), currency), "base": base.name}
    else:
        words = gettext("%(option)s costs as much as %(base)s") % {"option": option.name, "base": base.name}
    lines = [(PART_NAMES[kind], name, amount) for kind, name, amount in found.lines]
    return DifferenceShown(words, parts, found.total, lines)


def lines_by_part(option: Option, quote: Quote, priced: PricedOption) -> list[tuple[PartShown, list[LineShown]]]:
    """The parts that have lines, each with them; they add up to its cost."""
    rows = lines_shown(option, quote, priced)
    parts = [(part, [row for row in rows if row.part == part.key]) for part in parts_shown(priced)]
    return [(part, found) for part, found in parts if found]


@dataclass(frozen=True)
class LineShown:
    part: str
    what: str
    quantity: Decimal
    price: Decimal | None
    cost: Decimal
    source: str
    address: str


def lines_shown(option: Option, quote: Quote, priced: PricedOption) -> list[LineShown]:
    """Hours share what all of them cost, so that the lines add up to the cost of the option."""
    rows = list(option.lines.all())
    hours = [line for line in rows if line.price is None and not line.left_out]
    work = priced.priced.part(PartKind.WORK).cost
    shares = share_out(work, [line.quantity for line in hours], quote.currency) if hours else []
    of_hours = {line.pk: share for line, share in zip(hours, shares, strict=True)}
    return [_line(option, line, quote, of_hours) for line in rows]


def _line(option: Option, line: QuoteLine, quote: Quote, of_hours: Mapping[int, Decimal]) -> LineShown:
    price = quote.labour + quote.overhead if line.price is None else line.price
    cost = Decimal(0)
    if not line.left_out:
        cost = of_hours[line.pk] if line.price is None else line_total(line.quantity, price, quote.currency)
    address = reverse("quotes:line", args=[quote.number, option.position, line.pk])
    # What follows from the houses is kept in English, what was added by hand as it was typed.
    what = said(line.what) if line.key else line.what
    if line.left_out:
        what = gettext("%(what)s (left out)") % {"what": what}
    return LineShown(
        PARTS[QuoteLine.Kind(line.kind)].value, what, line.quantity, price, cost, source_words(line), address
    )


def source_words(line: QuoteLine) -> str:
    told = [said(line.source)] if line.source else []
    if line.typed_at and line.typed_by:
        values = {"name": line.typed_by.display_name, "day": day(line.typed_at)}
        told.append(gettext("typed by %(name)s on %(day)s") % values)
    elif line.typed_at:
        told.append(gettext("typed on %(day)s") % {"day": day(line.typed_at)})
    if line.to_stock:
        told.append(
            gettext("%(pieces)s more in the pack go to stock") % {"pieces": format_decimal(Decimal(line.to_stock))}
        )
    return "; ".join(told)


@dataclass(frozen=True)
class QuoteInShort:
    quote: Quote
    totals: list[tuple[str, Decimal]]


def quotes_for(*, job: Job) -> list[QuoteInShort]:
    """Its quotes, newest first, with the total of each option."""
    return [
        QuoteInShort(
            quote,
            [
                (option.name, price_lines(quote, option.lines.all(), quote.currency).priced.total)
                for option in quote.options.all()
            ],
        )
        for quote in whole_quotes_for(job=job)
    ]
