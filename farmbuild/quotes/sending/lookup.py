"""What an address names."""

from __future__ import annotations

from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from farmbuild.quotes.models import Quote, QuoteVersion
from farmbuild.quotes.sending import selectors


def quote_or_404(request: HttpRequest, number: int) -> Quote:
    return get_object_or_404(selectors.quotes_of(organisation=request.organisation), number=number)


def version_or_404(request: HttpRequest, number: int, version: int) -> QuoteVersion:
    rows = selectors.versions_of(organisation=request.organisation)
    return get_object_or_404(rows, quote__number=number, number=version)
