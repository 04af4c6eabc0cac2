"""Writes of jobs and of what was seen on their ground: one transaction a user action."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.problems.pictures import Picture
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.models import MAX_PHOTOS, Customer, Job, JobHouse, Survey, SurveyPhoto
from farmbuild.sites.models import House

JOB_FIELDS = ("customer", "name", "site", "note")
SURVEY_FIELDS = (
    *("looked_on", "looked_by", "ground_span", "ground_length", "slope", "soil", "access"),
    *("overhead", "overhead_note", "buried", "marked_on", "marked_by", "note"),
)


def _store(row: Any) -> None:
    row.full_clean(validate_unique=False, validate_constraints=False)
    row.save()


def _check_owner(organisation: Organisation, data: Mapping[str, Any]) -> None:
    for name in ("customer", "site"):
        if (row := data.get(name)) and row.organisation_id != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})


@needs(Act.PLAN)
@transaction.atomic
def create_job(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> Job:
    """``data``: customer, name, site, note. Raises ValidationError by field."""
    # The number is taken under the lock.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    _check_owner(organisation, data)
    if Customer.objects.filter(pk=data["customer"].pk).exclude(archived_at=None).exists():
        raise ValidationError(
            {"customer": gettext("%(data)s is archived. Bring them back first.") % {"data": data["customer"]}}
        )
    last = Job.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    job = Job(organisation=organisation, number=last + 1, made_by=user)
    for name in JOB_FIELDS:
        if name in data:
            setattr(job, name, data[name])
    _store(job)
    return job


@needs(Act.PLAN)
@transaction.atomic
def save_job(*, organisation: Organisation, user: User, job: Job, data: Mapping[str, Any]) -> Job:
    _check_owner(organisation, data)
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    for name in JOB_FIELDS:
        if name in data:
            setattr(current, name, data[name])
    _store(current)
    return current


@needs(Act.PLAN)
@transaction.atomic
def lose_job(*, organisation: Organisation, user: User, job: Job, because: str) -> Job:
    """The customer does not want it; its houses are free for other jobs. Raises ValidationError at "because"."""
    because = " ".join(because.split())
    if not because:
        raise ValidationError({"because": gettext("Say why in a few words, for example: too dear, or no answer.")})
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    if current.state not in (Job.State.ENQUIRY, Job.State.QUOTED):
        raise ValidationError(
            gettext("This job is %(state)s and cannot be lost any more.")
            % {"state": current.get_state_display().lower()}
        )
    JobHouse.objects.filter(job=current).update(live=False)
    current.state, current.lost_because = Job.State.LOST, because
    _store(current)
    return current


@needs(Act.PLAN)
@transaction.atomic
def open_again(*, organisation: Organisation, user: User, job: Job) -> Job:
    """A lost job is taken up again. Raises ValidationError where a house of it is of another job by now."""
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    if current.state != Job.State.LOST:
        raise ValidationError(gettext("This job is not lost."))
    houses = list(JobHouse.objects.filter(job=current).select_related("house"))
    for row in houses:
        _check_free(row.house, current)
    sent = current.quotes.filter(versions__isnull=False).exists()
    current.state, current.lost_because = Job.State.QUOTED if sent else Job.State.ENQUIRY, ""
    _store(current)
    JobHouse.objects.filter(job=current).update(live=True)
    return current


@needs(Act.PLAN)
@transaction.atomic
def tie_house(*, organisation: Organisation, user: User, job: Job, house: House) -> JobHouse:
    """The house is built for this job. Raises ValidationError where it is built for another that is not over."""
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    house = House.objects.of(organisation).select_for_update(no_key=True).get(pk=house.pk)
    _check_free(house, current)
    if not current.is_live:
        raise ValidationError(
            gettext("%(reference)s is %(state)s.")
            % {"reference": current.reference, "state": current.get_state_display().lower()}
        )
    row, _ = JobHouse.objects.get_or_create(organisation=organisation, job=current, house=house)
    return row


def _check_free(house: House, job: Job) -> None:
    other = JobHouse.objects.filter(house=house, live=True).exclude(job=job).select_related("job").first()
    if other:
        raise ValidationError(
            gettext("%(house)s is built for %(reference)s already. A house is of one job at a time.")
            % {"house": house, "reference": other.job.reference}
        )


@needs(Act.PLAN)
@transaction.atomic
def save_survey(*, organisation: Organisation, user: User, job: Job, data: Mapping[str, Any]) -> Survey:
    """What was seen on the ground. Raises ValidationError by field."""
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    survey = Survey.objects.filter(job=current).first() or Survey(organisation=organisation, job=current)
    for name in SURVEY_FIELDS:
        if name in data:
            setattr(survey, name, data[name])
    problems = marked_problems(survey.buried, survey.marked_on, survey.marked_by)
    if problems:
        raise ValidationError(problems)
    survey.saved_by = user
    _store(survey)
    return survey


def marked_problems(buried: str, marked_on: Any, marked_by: str) -> dict[str, str]:
    """What is missing where buried lines are said to be marked, by field."""
    if buried != Survey.Buried.MARKED:
        return {}
    problems = {}
    if not marked_on:
        problems["marked_on"] = gettext("Pick the day on which they were marked.")
    if not marked_by:
        problems["marked_by"] = gettext("Type who marked them.")
    return problems


@needs(Act.PLAN)
@transaction.atomic
def add_photos(
    *, organisation: Organisation, user: User, job: Job, pictures: Sequence[Picture], caption: str = ""
) -> int:
    """Gives how many. Raises ValidationError at "photos": none is chosen, too many, or one that is there already."""
    current = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    survey, _ = Survey.objects.get_or_create(job=current, defaults={"organisation": organisation, "saved_by": user})
    if not pictures:
        raise ValidationError({"photos": gettext("Choose a photo.")})
    there = list(SurveyPhoto.objects.filter(survey=survey).values_list("position", "sha256", "removed_at"))
    if len(there) + len(pictures) > MAX_PHOTOS:
        raise ValidationError(
            {
                "photos": gettext("Up to %(most)s photos go with one job; it has %(there)s, removed ones included.")
                % {"most": MAX_PHOTOS, "there": len(there)}
            }
        )
    digests = [sha256(picture.data).hexdigest() for picture in pictures]
    kept = [digest for _, digest, removed_at in there if removed_at is None] + digests
    if len(set(kept)) < len(kept):
        raise ValidationError({"photos": gettext("This photo is there already. Choose another one.")})
    last = max((position for position, *_ in there), default=0)
    for position, (picture, digest) in enumerate(zip(pictures, digests, strict=True), last + 1):
        photo = SurveyPhoto(
            organisation=organisation,
            survey=survey,
            position=position,
            caption=caption,
            data=picture.data,
            thumbnail=picture.thumbnail,
            sha256=digest,
            width=picture.width,
            height=picture.height,
            added_by=user,
        )
        _store(photo)
    return len(pictures)


@needs(Act.PLAN)
@transaction.atomic
def remove_photo(*, organisation: Organisation, user: User, photo: SurveyPhoto) -> None:
    """Its bytes go for good; that there was one, and who took it away, stays."""
    current = SurveyPhoto.objects.of(organisation).select_for_update(of=("self",)).get(pk=photo.pk)
    if current.removed_at:
        raise ValidationError(gettext("This photo is removed already."))
    current.data = current.thumbnail = None
    current.removed_at, current.removed_by = timezone.now(), user
    current.save(update_fields=["data", "thumbnail", "removed_at", "removed_by"])
