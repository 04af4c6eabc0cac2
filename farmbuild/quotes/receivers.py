"""What quotes answer when organisations ask."""

from __future__ import annotations

from typing import Any

from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Quote, QuoteRates


def tell_what_is_priced(sender: Any, *, organisation: Organisation, **more: Any) -> list[str]:
    quotes = Quote.objects.of(organisation).count()
    rates = QuoteRates.objects.filter(organisation=organisation).exists()
    return [count_noun(quotes, "quote")] * bool(quotes) + ["the rates of quotes"] * rates
