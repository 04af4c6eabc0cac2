"""Reads of jobs, what was seen on their ground, and its photos."""

from __future__ import annotations

from django.db.models import Count, QuerySet

from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Job, Survey, SurveyPhoto


def any_job_of(*, organisation: Organisation) -> QuerySet[Job]:
    """With customer, site and ``quote_count``."""
    rows = Job.objects.of(organisation).select_related("organisation", "customer", "site", "made_by")
    return rows.annotate(quote_count=Count("quotes", distinct=True))


@compiled_once
def _job_shown(organisation: int, number: int) -> QuerySet[Job]:
    rows = Job.objects.filter(organisation_id=organisation, number=number)
    return rows.select_related("organisation", "customer", "site", "made_by", "acceptance")


def job_shown(*, organisation: Organisation, number: int) -> Job | None:
    """The one of ``any_job_of`` that has this number, with what was accepted of it and without ``quote_count``."""
    return next(iter(_job_shown(organisation.pk, number)), None)


def live_jobs_of(*, organisation: Organisation) -> QuerySet[Job]:
    return any_job_of(organisation=organisation).filter(state__in=Job.LIVE)


def jobs_over_of(*, organisation: Organisation) -> QuerySet[Job]:
    """Finished or lost."""
    return any_job_of(organisation=organisation).exclude(state__in=Job.LIVE)


def survey_of(*, job: Job) -> Survey | None:
    return Survey.objects.filter(job=job).select_related("saved_by").first()


def photos_of(*, organisation: Organisation) -> QuerySet[SurveyPhoto]:
    """That are there, with their job, without their bytes."""
    rows = SurveyPhoto.objects.of(organisation).filter(removed_at=None)
    return rows.select_related("survey__job", "added_by").order_by("position")


def photos_of_job(*, job: Job) -> QuerySet[SurveyPhoto]:
    return photos_of(organisation=job.organisation).filter(survey__job=job)


def bytes_of(*, photo: SurveyPhoto, small: bool) -> bytes:
    name = "thumbnail" if small else "data"
    return bytes(SurveyPhoto.objects.filter(pk=photo.pk).values_list(name, flat=True).get())
