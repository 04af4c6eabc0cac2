"""Writes of cost against quote: what is still to come, that a job is finished, and a lesson that is taken."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, gettext_lazy

from farmbuild.crew.steps.services import save_rates as save_work_rates
from farmbuild.measure import format_money, places
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.against.lessons import Lesson, lessons_of
from farmbuild.quotes.against.selectors import costs_of
from farmbuild.quotes.models import Job, JobHouse, QuoteRates, ToCome

NOT_ACCEPTED = gettext_lazy("Nothing is accepted yet, so there is nothing to hold its cost against.")
CHANGED = gettext_lazy("What finished jobs teach changed since the page was loaded. Look at it again.")


@needs(Act.PLAN)
@transaction.atomic
def type_to_come(*, organisation: Organisation, user: User, job: Job, amount: Decimal | None, reason: str) -> ToCome:
    """``amount`` None: what is worked out counts again. Raises ValidationError by field."""
    lock_currency(organisation=organisation)
    current = Job.objects.of(organisation).select_for_update().select_related("organisation").get(pk=job.pk)
    costs = costs_of(job=current)
    if costs is None:
        raise ValidationError(NOT_ACCEPTED)
    reason = " ".join(reason.split())
    if amount is not None:
        _check_amount(amount, costs.committed, organisation.currency)
        if not reason:
            raise ValidationError({"reason": gettext("Say why in a few words, for example: the ends take longer.")})
    row = ToCome(organisation=organisation, job=current, amount=amount, reason=reason or "as worked out", by=user)
    row.full_clean(validate_unique=False, validate_constraints=False)
    row.save()
    return row


def _check_amount(amount: Decimal, committed: Decimal, currency: str) -> None:
    if amount < 0:
        raise ValidationError({"amount": gettext("Type 0 or more.")})
    if amount != amount.quantize(Decimal(1).scaleb(-places(currency))):
        raise ValidationError(
            {"amount": gettext("%(currency)s has no coins as small as that.") % {"currency": currency}}
        )
    if amount < committed:
        words = gettext("What is on order already comes to %(committed)s. Type that or more.") % {
            "committed": format_money(committed, currency)
        }
        raise ValidationError({"amount": words})


@needs(Act.PLAN)
@transaction.atomic
def finish_job(*, organisation: Organisation, user: User, job: Job) -> Job:
    """Its houses may be of another job then, and what it cost teaches. Raises ValidationError."""
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    if current.state != Job.State.ACCEPTED:
        raise ValidationError(
            gettext("This job is %(state)s; only an accepted one is finished.")
            % {"state": current.get_state_display().lower()}
        )
    JobHouse.objects.filter(job=current).update(live=False)
    current.state = Job.State.FINISHED
    current.save(update_fields=["state"])
    return current


@needs(Act.PLAN)
@transaction.atomic
def take_lesson(*, organisation: Organisation, user: User, key: str, seen: str) -> Lesson:
    """What the page proposed, and no other figure, goes into the rates of next quotes. Raises ValidationError."""
    lock_currency(organisation=organisation)
    lesson = next((one for one in lessons_of(organisation=organisation) if one.key == key), None)
    if lesson is None or lesson.token != seen:
        raise ValidationError(CHANGED)
    if lesson.step:
        save_work_rates(organisation=organisation, user=user, rates={lesson.step: (lesson.proposed, Decimal(0))})
        return lesson
    rates = QuoteRates.objects.filter(organisation=organisation).select_for_update().first()
    if rates is None:
        raise ValidationError(gettext("Type the rates of your quotes first, then take what jobs teach."))
    setattr(rates, lesson.column, lesson.proposed)
    rates.full_clean(validate_unique=False, validate_constraints=False)
    rates.save()
    return lesson
