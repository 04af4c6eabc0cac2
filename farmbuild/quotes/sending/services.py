"""A quote goes out, or is withdrawn. What went out stays; a change to the quote is for its next version."""

from __future__ import annotations

import logging
from datetime import date, timedelta
from functools import partial

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said_day
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.bridge import offered_of
from farmbuild.quotes.models import Job, Quote, QuoteVersion
from farmbuild.quotes.sending.files import files_of
from farmbuild.quotes.sending.freezing import frozen_quote

logger = logging.getLogger(__name__)
State = QuoteVersion.State
#: Days that an offer may hold.
MAX_DAYS = 366
ACCEPTED = gettext_lazy(
    "This job is accepted. What changes now is a change order, which you make on the page of the job."
)


def lock_job(*, organisation: Organisation, job: int) -> Job:
    """The job of that key as it is now; nobody else changes it until the transaction ends."""
    lock_currency(organisation=organisation)
    rows = Job.objects.of(organisation).select_for_update(of=("self",)).select_related("customer", "site")
    return rows.get(pk=job)


@needs(Act.SEND)
@transaction.atomic
def send_quote(
    *, organisation: Organisation, user: User | None, quote: Quote, valid_until: date, how: str = ""
) -> QuoteVersion:
    """Its next version: frozen as it is, with PDF and workbook. The one before does not hold any more.

    Raises ValidationError: by field for the day, in words for what is not priced, and once the job is accepted.
    """
    job = lock_job(organisation=organisation, job=quote.job_id)
    quote = Quote.objects.of(organisation).select_related("job__customer").get(pk=quote.pk)
    check_open(job)
    if quote.currency != organisation.currency:
        raise ValidationError(
            gettext("This quote is in %(currency)s, and you reckon in %(currency2)s now.")
            % {"currency": quote.currency, "currency2": organisation.currency}
        )
    today = today_of(organisation=organisation)
    check_valid_until(valid_until, today)
    number = (quote.versions.aggregate(last=Max("number"))["last"] or 0) + 1
    shown = frozen_quote(organisation=organisation, quote=quote, number=number, day=today, valid_until=valid_until)
    files = files_of(offered_of(shown))
    # Row by row, so that the history tells of each.
    for before in quote.versions.filter(state=State.SENT):
        before.state = State.WITHDRAWN
        before.save(update_fields=["state"])
    version = QuoteVersion(
        organisation=organisation,
        quote=quote,
        number=number,
        currency=quote.currency,
        shown=shown,
        pdf=files.pdf,
        workbook=files.workbook,
        sha256=files.sha256,
        workbook_sha256=files.workbook_sha256,
        valid_until=valid_until,
        sent_at=timezone.now(),
        sent_by=user,
        sent_how=how.strip(),
    )
    version.full_clean(exclude=["pdf", "workbook"])
    version.save()
    if job.state == Job.State.ENQUIRY:
        job.state = Job.State.QUOTED
        job.save(update_fields=["state"])
    transaction.on_commit(
        partial(logger.info, "Quote %s sent, version %s", quote.number, number, extra={"what": "sent"})
    )
    return version


def check_open(job: Job) -> None:
    """Raise ValidationError where nothing is offered for the job any more."""
    if job.state == Job.State.ACCEPTED:
        raise ValidationError(ACCEPTED)
    if not job.is_live:
        raise ValidationError(
            gettext("Job %(reference)s is %(state)s, so nothing is sent for it.")
            % {"reference": job.reference, "state": job.get_state_display().lower()}
        )


def check_valid_until(day: date, today: date) -> None:
    """Raise ValidationError at the field."""
    if day < today:
        raise ValidationError(
            {"valid_until": gettext("%(day)s is over. Type today or a later day.") % {"day": said_day(day)}}
        )
    if day > today + timedelta(days=MAX_DAYS):
        raise ValidationError({"valid_until": gettext("Type a day within a year.")})


@needs(Act.SEND)
@transaction.atomic
def withdraw_version(*, organisation: Organisation, user: User | None, version: QuoteVersion) -> QuoteVersion:
    """It can be accepted no more. Raises ValidationError where it is accepted, or withdrawn already."""
    lock_job(organisation=organisation, job=version.quote.job_id)
    current = QuoteVersion.objects.of(organisation).select_for_update(of=("self",)).get(pk=version.pk)
    if current.state == State.ACCEPTED:
        raise ValidationError(ACCEPTED)
    if current.state == State.WITHDRAWN:
        raise ValidationError(gettext("This version does not hold any more already."))
    current.state = State.WITHDRAWN
    current.save(update_fields=["state"])
    return current
