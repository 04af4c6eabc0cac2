"""Reads of customers."""

from __future__ import annotations

from django.db.models import Count, Q, QuerySet

from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Customer, Job


def any_customer_of(*, organisation: Organisation) -> QuerySet[Customer]:
    """In use and archived, with ``live_jobs`` and ``all_jobs``."""
    live = Q(jobs__state__in=Job.LIVE, jobs__archived_at=None)
    return Customer.objects.of(organisation).annotate(live_jobs=Count("jobs", filter=live), all_jobs=Count("jobs"))


def customers_of(*, organisation: Organisation) -> QuerySet[Customer]:
    return Customer.objects.of(organisation).filter(archived_at=None)


#: Jobs named on the page of a customer; the list of jobs has all.
MOST_JOBS = 20


def jobs_for(*, customer: Customer) -> QuerySet[Job]:
    """The latest, newest first."""
    return Job.objects.filter(customer=customer).order_by("-number")[:MOST_JOBS]
