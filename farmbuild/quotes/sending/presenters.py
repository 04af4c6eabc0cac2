"""What the pages of a sent quote show, gathered once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.measure import format_money
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.quotes.bridge import Offered, OfferedOption, offered_of
from farmbuild.quotes.models import Acceptance, ChangeOrder, Job, Quote, QuoteLink, QuoteVersion
from farmbuild.quotes.sending import selectors
from farmbuild.quotes.sending.accepting import no_longer_holds
from farmbuild.quotes.sending.freezing import is_as_sent
from farmbuild.quotes.sending.links import carried
from farmbuild.quotes.sending.words import house_words, price_rows


@dataclass(frozen=True)
class ShownHouse:
    name: str
    facts: tuple[tuple[str, str], ...]
    drawings: list[SafeString]


@dataclass(frozen=True)
class ShownOption:
    option: OfferedOption
    houses: list[ShownHouse]
    total: str


@dataclass(frozen=True)
class ShownPrice:
    """``amounts``: (name of the option, amount in words)."""

    label: str
    heavy: bool
    amounts: list[tuple[str, str]]


@dataclass(frozen=True)
class ShownOffer:
    """``why_not``: why it is not to be accepted; empty while it may be."""

    offered: Offered
    prices: list[ShownPrice]
    options: list[ShownOption]
    why_not: str
    total: str


def shown_offer(offered: Offered, why_not: str = "", name: str = "") -> ShownOffer:
    """``name``: of its one option, where it is one that nobody typed."""
    if name:
        offered = replace(offered, options=tuple(replace(option, name=name) for option in offered.options))
    names = [option.name for option in offered.options]
    totals = [format_money(option.total, offered.currency) for option in offered.options]
    return ShownOffer(
        offered=offered,
        prices=[
            ShownPrice(row.label, row.heavy, list(zip(names, row.amounts, strict=True))) for row in price_rows(offered)
        ],
        options=[
            ShownOption(
                option=option,
                houses=[
                    ShownHouse(
                        name=house_words(house),
                        facts=house.facts,
                        # Drawn by this program when it was sent, with whatever people typed escaped.
                        drawings=[mark_safe(svg) for _, svg in house.drawings],
                    )
                    for house in option.houses
                ],
                total=total,
            )
            for option, total in zip(offered.options, totals, strict=True)
        ],
        why_not=why_not,
        total=_span_words(offered),
    )


def _span_words(offered: Offered) -> str:
    """From the lowest to the highest total; one where they are the same."""
    totals = {option.total for option in offered.options}
    low, high = (format_money(total, offered.currency) for total in (min(totals), max(totals)))
    return low if low == high else gettext("%(low)s to %(high)s") % {"low": low, "high": high}


def offer_of_version(version: QuoteVersion) -> ShownOffer:
    return shown_offer(offered_of(version.shown), no_longer_holds(version))


@dataclass(frozen=True)
class ShownLink:
    """``address``: whole, where it was made in this browser a little while ago."""

    link: QuoteLink
    address: str
    state: str


def links_shown(request: HttpRequest, of: QuoteVersion | ChangeOrder, now: Any) -> list[ShownLink]:
    return [_link(request, link, now) for link in selectors.links_to(of=of)]


def _link(request: HttpRequest, link: QuoteLink, now: Any) -> ShownLink:
    state = "ended" if link.ended_at else "over" if link.expires_at <= now else "open"
    secret = carried(request, link) if state == "open" else ""
    return ShownLink(link, address_of(secret, request.build_absolute_uri) if secret else "", state)


def address_of(secret: str, whole: Callable[[str], str]) -> str:
    return whole(reverse_outside("quotes:offered", secret))


def sending_of(quote: Quote) -> dict[str, Any]:
    """For the page of a quote that comes whole: its versions, and which of them it is no longer."""
    versions = list(selectors.versions_of_quote(quote=quote))
    return {"versions": versions, "changed_since": _changed_since(quote, versions)}


def _changed_since(quote: Quote, versions: Sequence[QuoteVersion]) -> QuoteVersion | None:
    """The version that holds and that the customer would accept, where the quote is another by now."""
    holds = next((row for row in versions if row.state == QuoteVersion.State.SENT), None)
    if holds is None or quote.job.state != Job.State.QUOTED:
        return None
    return None if is_as_sent(quote, selectors.shown_of(version=holds)) else holds


def accepted_of(job: Job) -> dict[str, Any]:
    """For the page of a job: who accepted what."""
    accepted: Acceptance | None = selectors.acceptance_of(job=job)
    return {"accepted": accepted}
