"""Reads of quotes with all that their pages show."""

from __future__ import annotations

from django.db.models import Count, Prefetch, QuerySet

from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Job, Option, OptionHouse, Quote, QuoteLine, QuoteRates


def rates_for(*, organisation: Organisation) -> QuoteRates | None:
    return QuoteRates.objects.filter(organisation=organisation).first()


def jobs_to_quote(*, organisation: Organisation) -> QuerySet[Job]:
    return Job.objects.of(organisation)


def quotes_of(*, organisation: Organisation) -> QuerySet[Quote]:
    """With job, customer and ``option_count``."""
    rows = Quote.objects.of(organisation).select_related("organisation", "job__customer")
    return rows.annotate(option_count=Count("options", distinct=True))


def whole_quotes_of(*, organisation: Organisation) -> QuerySet[Quote]:
    """With options, their houses and lines too: four queries for any number."""
    return quotes_of(organisation=organisation).prefetch_related(Prefetch("options", _whole()))


@compiled_once
def _whole_quote(organisation: int, number: int) -> QuerySet[Quote]:
    rows = Quote.objects.filter(organisation_id=organisation, number=number)
    return rows.select_related("organisation", "job__customer").prefetch_related(Prefetch("options", _whole()))


def whole_quote(*, organisation: Organisation, number: int) -> Quote | None:
    """The one of ``whole_quotes_of`` that has this number, without ``option_count``."""
    return next(iter(_whole_quote(organisation.pk, number)), None)


def whole_quotes_for(*, job: Job) -> QuerySet[Quote]:
    return whole_quotes_of(organisation=job.organisation).filter(job=job)


def _whole() -> QuerySet[Option]:
    lines = QuoteLine.objects.select_related("typed_by", "material").order_by("position", "pk")
    rows = Option.objects.select_related("based_on").order_by("position")
    return rows.prefetch_related("houses", Prefetch("lines", lines))


def options_of(*, organisation: Organisation) -> QuerySet[Option]:
    """With quote and job, houses and lines."""
    rows = _whole().filter(organisation=organisation)
    return rows.select_related("quote__job__customer", "quote__organisation", "based_on")


def option_houses_of(*, organisation: Organisation) -> QuerySet[OptionHouse]:
    return OptionHouse.objects.of(organisation).select_related("option__quote__job", "organisation", "source_house")


def lines_of(*, organisation: Organisation) -> QuerySet[QuoteLine]:
    rows = QuoteLine.objects.of(organisation)
    return rows.select_related("option__quote__job", "option__quote__organisation", "typed_by")
