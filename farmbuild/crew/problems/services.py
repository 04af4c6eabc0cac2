"""Photos come with what was recorded, and may be taken away; problems are put right."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from farmbuild.crew.models import MAX_PHOTOS, Actual, ProblemPhoto, ProblemSettled
from farmbuild.crew.problems.pictures import Picture
from farmbuild.orgs.models import Organisation, User

TOO_MANY = f"Up to {MAX_PHOTOS} photos go with one problem. Leave some out."
NO_WORDS = "Say in a few words what the photo shows, for example: bent the wrong way."


def attach(*, actual: Actual, pictures: Sequence[Picture]) -> None:
    """Photos of a problem that is being recorded; within the transaction that records it."""
    if not pictures:
        return
    if not actual.problem:
        raise ValidationError({"problem": NO_WORDS})
    if len(pictures) > MAX_PHOTOS:
        raise ValidationError({"photos": TOO_MANY})
    for position, picture in enumerate(pictures, 1):
        photo = ProblemPhoto(
            organisation=actual.organisation,
            actual=actual,
            position=position,
            data=picture.data,
            thumbnail=picture.thumbnail,
            sha256=sha256(picture.data).hexdigest(),
            width=picture.width,
            height=picture.height,
        )
        photo.full_clean(exclude=["actual", "organisation"], validate_constraints=False)
        photo.save()


def may_remove_photo(*, user: User, photo: ProblemPhoto) -> bool:
    """Whoever added it, and staff."""
    return photo.removed_at is None and (user.is_staff or photo.actual.by_id == user.pk)


@transaction.atomic
def remove_photo(*, organisation: Organisation, user: User, photo: ProblemPhoto, reason: str) -> ProblemPhoto:
    """The photo goes for good; that there was one, who took it away and why stays."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": "Say why in a few words, for example: it shows another house."})
    current = (
        ProblemPhoto.objects.of(organisation).select_for_update(of=("self",)).select_related("actual").get(pk=photo.pk)
    )
    if current.removed_at:
        raise ValidationError("This photo is removed already.")
    if not may_remove_photo(user=user, photo=current):
        raise ValidationError("Only the person who added this photo can take it away.")
    current.data = current.thumbnail = None
    current.removed_at, current.removed_by, current.removed_reason = timezone.now(), user, reason
    current.full_clean(exclude=["actual", "organisation"], validate_constraints=False)
    current.save(update_fields=["data", "thumbnail", "removed_at", "removed_by", "removed_reason"])
    return current


@transaction.atomic
def resolve(*, organisation: Organisation, user: User, actual: Actual, how: str) -> ProblemSettled:
    """A problem is put right. Raises ValidationError when it is already, or nothing is said of how."""
    how = " ".join(how.split())
    if not how:
        raise ValidationError({"how": "Say in a few words how, for example: bent again and checked on the floor."})
    current = Actual.objects.of(organisation).select_for_update(of=("self",)).get(pk=actual.pk)
    if ProblemSettled.objects.filter(actual=current).exists():
        raise ValidationError("This problem is corrected already. Load the page again to see how.")
    settled = ProblemSettled(organisation=organisation, actual=current, how=how, by=user)
    settled.full_clean(exclude=["organisation"], validate_constraints=False)
    settled.save()
    return settled
