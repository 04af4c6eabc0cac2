"""What was sent and agreed, on the pages of quotes and jobs."""

from __future__ import annotations

from typing import Any

from django import template

from farmbuild.quotes.against.presenters import houses_of_job
from farmbuild.quotes.changes.presenters import changes_of_job
from farmbuild.quotes.models import Job, Quote
from farmbuild.quotes.sending.presenters import accepted_of, sending_of

register = template.Library()


@register.inclusion_tag("quotes/sending/of_quote.html", takes_context=True)
def sent_of_quote(context: template.Context, quote: Quote) -> dict[str, Any]:
    """Its versions."""
    return context.flatten() | sending_of(quote)


@register.inclusion_tag("quotes/sending/of_job.html", takes_context=True)
def agreed_of_job(context: template.Context, job: Job) -> dict[str, Any]:
    """Who accepted what, its houses with what they cost, and its change orders; nothing before it is accepted."""
    found = accepted_of(job)
    if found["accepted"]:
        found |= changes_of_job(job) | houses_of_job(job, with_costs=context["may"].costs)
    return context.flatten() | found
