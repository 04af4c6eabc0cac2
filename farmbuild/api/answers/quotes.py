"""Jobs of customers, and what was sent to them."""

from datetime import date, datetime

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads
from farmbuild.api.values import Currency, Key, field
from farmbuild.orgs.acts import Act
from farmbuild.quotes.jobs.selectors import any_job_of
from farmbuild.quotes.models import Job, QuoteVersion
from farmbuild.quotes.sending.selectors import versions_of

router = Router(tags=["jobs"])
SEE = Bearer(Act.SEE)


class JobOut(Schema):
    number: int
    reference: str
    name: str
    customer: str
    site: str | None
    state: str = field("enquiry, quoted, accepted, finished or lost.")
    quotes: int = field("How many quotes it has.")


class SentQuote(Schema):
    quote: int
    version: int
    job: int
    currency: Currency
    sent_at: datetime
    valid_until: date
    state: str = field("sent, accepted or withdrawn.")


def job_out(row: Job):
    return {
        "number": row.number,
        "reference": row.reference,
        "name": row.name,
        "customer": row.customer.name,
        "site": row.site.slug if row.site else None,
        "state": row.state,
        "quotes": row.quote_count,
    }


def sent_out(row: QuoteVersion):
    return {
        "quote": row.quote.number,
        "version": row.number,
        "job": row.quote.job.number,
        "currency": row.currency,
        "sent_at": row.sent_at,
        "valid_until": row.valid_until,
        "state": row.state,
    }


@reads(router, "/jobs", "jobs", listed(JobOut), SEE, "Jobs of customers")
def jobs(request: HttpRequest, asked: Part, state: Job.State | None = None):
    rows = any_job_of(organisation=request.organisation)
    return part(rows.filter(state=state) if state else rows, asked, job_out)


@reads(router, "/jobs/{number}", "job", JobOut, SEE, "One job")
def job(request: HttpRequest, number: Key):
    return job_out(get_object_or_404(any_job_of(organisation=request.organisation), number=number))


@reads(router, "/quotes", "quotes", listed(SentQuote), Bearer(Act.COSTS), "Quotes that went out")
def quotes(request: HttpRequest, asked: Part):
    return part(versions_of(organisation=request.organisation).defer("shown"), asked, sent_out)
