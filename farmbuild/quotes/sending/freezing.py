"""A quote as it goes out, as plain values that JSON has: what the customer is shown, and what it was reckoned of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import as_kept
from farmbuild.measure import format_decimal
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.bridge import (
    FORM,
    PART_NAMES,
    Kind,
    QuoteError,
    cautions,
    frozen_lines,
    frozen_rates,
    price_frozen,
)
from farmbuild.quotes.models import Customer, Job, Option, OptionHouse, Quote
from farmbuild.quotes.pricing.specs import MissingRow, houses_from
from farmbuild.sites.bridge import drawn_of, section_words_of, spec_problems
from farmbuild.sites.drawings import HouseDrawing
from farmbuild.sites.models import House

_HOUSE = ("name", "quantity", "spec", "own_rows")
NO_OPTION = gettext_lazy("This quote has no option yet. Add one with a house, then send it.")


def frozen_quote(
    *, organisation: Organisation, quote: Quote, number: int, day: date, valid_until: date
) -> dict[str, Any]:
    """All of it. Raises ValidationError in words: what is not there, or not priced."""
    options = list(quote.options.prefetch_related("houses", "lines__material"))
    if not options:
        raise ValidationError(NO_OPTION)
    if problems := [words for option in options for words in _problems(option)]:
        raise ValidationError(problems)
    rates = frozen_rates(quote)
    return _head(organisation, quote.job, f"Quote {quote.reference}, version {number}", day, valid_until) | {
        "note": quote.note.strip(),
        "exclusions": lines_of(quote.exclusions),
        "rates": rates,
        "options": [_option(organisation, option, rates) for option in options],
    }


def frozen_change(
    *,
    organisation: Organisation,
    job: Job,
    number: int,
    what: str,
    lines: Sequence[Mapping[str, Any]],
    rates: Mapping[str, Any],
    day: date,
    valid_until: date,
) -> dict[str, Any]:
    """Of a change order; its one option has the key 0."""
    return _head(organisation, job, f"Change {number} to {job.reference}", day, valid_until) | {
        "note": what,
        "exclusions": [],
        "rates": dict(rates),
        "options": [
            {"option": 0, "name": f"Change {number}", "houses": []}
            | offered_lines(lines, rates, organisation.currency, change=True)
        ],
    }


def is_as_sent(quote: Quote, shown: Mapping[str, Any]) -> bool:
    """Whether the quote still is what a version of it shows; it comes with options, their houses and lines."""
    options = [
        (option.pk, option.name, frozen_lines(option.lines.all()), [_typed_house(row) for row in option.houses.all()])
        for option in quote.options.all()
    ]
    sent = [
        (row["option"], row["name"], row["lines"], [[house[name] for name in _HOUSE] for house in row["houses"]])
        for row in shown["options"]
    ]
    words = (quote.note.strip(), lines_of(quote.exclusions), frozen_rates(quote))
    return options == sent and words == (shown["note"], shown["exclusions"], shown["rates"])


def _typed_house(row: OptionHouse) -> list[Any]:
    return [getattr(row, name) for name in _HOUSE]


def _head(organisation: Organisation, job: Job, title: str, day: date, valid_until: date) -> dict[str, Any]:
    return {
        "form": FORM,
        "title": title,
        "sender": organisation.name,
        "where": [text for text in (*lines_of(organisation.address), organisation.contact) if text],
        "to": addressed(job.customer),
        "job": job.name,
        "day": day.isoformat(),
        "valid_until": valid_until.isoformat(),
        "currency": organisation.currency,
        "units": organisation.unit_system,
        "cautions": [list(row) for row in cautions()],
    }


def addressed(customer: Customer) -> list[str]:
    return [text for text in (customer.name, customer.contact, *lines_of(customer.address)) if text]


def lines_of(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _problems(option: Option) -> list[str]:
    found = [
        gettext("%(option)s: %(row)s has no price.") % {"option": option.name, "row": row["what"]}
        for row in option.not_priced
    ]
    if not option.houses.all():
        found.append(gettext("%(option)s has no house. Add one, or take the option out.") % {"option": option.name})
    if not any(not line.left_out for line in option.lines.all()):
        found.append(gettext("%(option)s has no line with a price. Work it out first.") % {"option": option.name})
    return found


def _option(organisation: Organisation, option: Option, rates: Mapping[str, Any]) -> dict[str, Any]:
    lines = frozen_lines(option.lines.all())
    try:
        priced = offered_lines(lines, rates, organisation.currency)
    except QuoteError as error:
        raise ValidationError(f"{option.name}: {error}") from error
    return {"option": option.pk, "name": option.name, "houses": _houses(organisation, option)} | priced


def offered_lines(
    lines: Sequence[Mapping[str, Any]], rates: Mapping[str, Any], currency: str, *, change: bool = False
) -> dict[str, Any]:
    """What they come to, by part; what is in them, in words; and the lines themselves. Raises QuoteError."""
    priced = price_frozen(rates, lines, currency, change=change)
    return {
        "lines": [dict(line) for line in lines],
        "included": [
            [line["what"], _how_many(line) if line["kind"] == "goods" else ""]
            for line in lines
            if line["kind"] in ("goods", "charge")
        ],
        "work": list(dict.fromkeys(line["what"] for line in lines if line["kind"] == "hours")),
        "parts": [
            {
                "kind": str(part.kind),
                "name": PART_NAMES[Kind(part.kind)],
                "price": str(part.price),
                "percent": str(rates[f"tax_{part.kind}"]),
                "tax": str(part.tax),
            }
            for part in priced.parts
        ],
        "cost": str(priced.cost),
        "before_tax": str(priced.before_tax),
        "tax": str(priced.tax),
        "total": str(priced.total),
    }


def _how_many(line: Mapping[str, Any]) -> str:
    quantity = Decimal(line["quantity"])
    return format_decimal(quantity.quantize(Decimal(1)) if quantity == int(quantity) else quantity.normalize())


def _houses(organisation: Organisation, option: Option) -> list[dict[str, Any]]:
    rows = list(option.houses.all())
    try:
        houses = houses_from(rows, organisation=organisation)
    except MissingRow as error:
        raise ValidationError(f"{option.name}: {error}") from error
    return [_house(organisation, option, row, house) for row, house in zip(rows, houses, strict=True)]


def _house(organisation: Organisation, option: Option, row: OptionHouse, house: House) -> dict[str, Any]:
    units = organisation.unit_system
    if problems := spec_problems(house, units):
        raise ValidationError([f"{option.name}, {row.name}: {message}" for _, message in problems])
    with as_kept():
        drawing = HouseDrawing(drawn_of(house, units), row.name, units)
        drawings = [["Section", str(drawing.section())], ["Side view and plan", str(drawing.along())]]
        words_of = section_words_of(house, units)
    facts = [[head, words] for head, words in words_of.items() if words and words != "none"]
    return {
        "name": row.name,
        "quantity": row.quantity,
        "facts": facts,
        "drawings": drawings,
        "spec": row.spec,
        "own_rows": row.own_rows,
    }
