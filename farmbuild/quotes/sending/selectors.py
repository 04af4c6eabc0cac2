"""What was sent, and the links to it."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Acceptance, ChangeOrder, Job, Quote, QuoteLink, QuoteVersion


def versions_of(*, organisation: Organisation) -> QuerySet[QuoteVersion]:
    """Without their files."""
    return QuoteVersion.objects.of(organisation).select_related(
        "organisation", "quote__job__customer", "quote__job__site", "sent_by"
    )


def versions_of_quote(*, quote: Quote) -> QuerySet[QuoteVersion]:
    """For a list, the newest first: neither files nor what they show."""
    return quote.versions.defer("pdf", "workbook", "shown").select_related("sent_by")


def shown_of(*, version: QuoteVersion) -> dict[str, Any]:
    """All that it shows, which lists leave out."""
    return QuoteVersion.objects.values_list("shown", flat=True).get(pk=version.pk)


def quotes_of(*, organisation: Organisation) -> QuerySet[Quote]:
    return Quote.objects.of(organisation).select_related("job__customer", "organisation")


def links_to(*, of: QuoteVersion | ChangeOrder) -> list[QuoteLink]:
    return list(of.links.select_related("made_by", "ended_by"))


def any_link_of(*, organisation: Organisation) -> QuerySet[QuoteLink]:
    return QuoteLink.objects.of(organisation).select_related("version__quote", "change__job")


def earlier_than(*, version: QuoteVersion) -> list[int]:
    """Numbers of the versions before it."""
    rows = QuoteVersion.objects.filter(quote=version.quote_id, number__lt=version.number).order_by("number")
    return list(rows.values_list("number", flat=True))


def acceptance_by(*, version: QuoteVersion) -> Acceptance | None:
    return Acceptance.objects.filter(version=version).select_related("by_user").first()


def acceptance_of(*, job: Job) -> Acceptance | None:
    rows = Acceptance.objects.filter(job=job).select_related("by_user", "organisation", "version__quote")
    return rows.first()


def file_of(*, version: QuoteVersion, name: str) -> bytes:
    """``name``: pdf or workbook."""
    return bytes(QuoteVersion.objects.filter(pk=version.pk).values_list(name, flat=True).get())
