"""Photos come with what was recorded or later, and may be taken away; problems are put right."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from farmbuild.crew.models import MAX_PHOTOS, Actual, ProblemPhoto, ProblemSettled
from farmbuild.crew.problems.pictures import Picture
from farmbuild.orgs.acts import Act, may, needs
from farmbuild.orgs.models import Organisation, User

TOO_MANY = format_lazy(gettext_lazy("Up to {most} photos go with one problem. Leave some out."), most=MAX_PHOTOS)
NO_WORDS = gettext_lazy("Say in a few words what the photo shows, for example: bent the wrong way.")


def attach(*, actual: Actual, pictures: Sequence[Picture]) -> None:
    """Photos of a problem that is being recorded; within the transaction that records it."""
    if not pictures:
        return
    if not actual.problem:
        raise ValidationError({"problem": NO_WORDS})
    if len(pictures) > MAX_PHOTOS:
        raise ValidationError({"photos": TOO_MANY})
    _store(actual, pictures)


@needs(Act.RECORD)
@transaction.atomic
def add_photos(*, organisation: Organisation, user: User, actual: Actual, pictures: Sequence[Picture]) -> int:
    """Photos for a problem that was recorded before, corrected or not; gives how many.

    Raises ValidationError at "photos": none is chosen, too many, or one that is with it already. A problem of an
    archived house is not found (Actual.DoesNotExist).
    """
    house = {"task__house__archived_at": None, "task__house__site__archived_at": None}
    rows = Actual.objects.of(organisation).exclude(problem="").filter(**house)
    # Of two who add at once the second sees what the first added.
    current = rows.select_for_update(of=("self",)).get(pk=actual.pk)
    if not pictures:
        raise ValidationError({"photos": gettext("Choose a photo.")})
    there = list(ProblemPhoto.objects.filter(actual=current).values_list("position", "sha256", "removed_at"))
    if len(there) + len(pictures) > MAX_PHOTOS:
        left = MAX_PHOTOS - len(there)
        raise ValidationError(
            {
                "photos": gettext(
                    "Up to %(most)s photos go with one problem; it has %(there)s, removed ones included. %(what)s"
                )
                % {
                    "most": MAX_PHOTOS,
                    "there": len(there),
                    "what": gettext("Choose %(left)s at most.") % {"left": left}
                    if left
                    else gettext("Say it as a new problem instead."),
                }
            }
        )
    kept = [digest for _, digest, removed_at in there if removed_at is None]
    kept += [sha256(picture.data).hexdigest() for picture in pictures]
    if len(set(kept)) < len(kept):
        raise ValidationError({"photos": gettext("This photo is with the problem already. Choose another one.")})
    last = max((position for position, _, _ in there), default=0)
    _store(current, pictures, after=last, added_at=timezone.now(), added_by=user)
    return len(pictures)


def room_for_photos(*, actual: Actual) -> bool:
    """``actual`` comes with its photos (``selectors.with_photos``)."""
    return len(actual.photos.all()) < MAX_PHOTOS


def _store(actual: Actual, pictures: Sequence[Picture], *, after: int = 0, **added: Any) -> None:
    for position, picture in enumerate(pictures, after + 1):
        photo = ProblemPhoto(
            **added,
            organisation=actual.organisation,
            actual=actual,
            position=position,
            data=picture.data,
            thumbnail=picture.thumbnail,
            sha256=sha256(picture.data).hexdigest(),
            width=picture.width,
            height=picture.height,
        )
        photo.full_clean(exclude=["actual", "organisation", "added_by"], validate_constraints=False)
        photo.save()


def may_remove_photo(*, user: User, photo: ProblemPhoto) -> bool:
    """Whoever added it, and whoever plans here."""
    by = photo.added_by_id or photo.actual.by_id
    if photo.removed_at is not None:
        return False
    return by == user.pk or may(organisation=photo.organisation, user=user, act=Act.PLAN)


@needs(Act.RECORD)
@transaction.atomic
def remove_photo(*, organisation: Organisation, user: User, photo: ProblemPhoto, reason: str) -> ProblemPhoto:
    """The photo goes for good; that there was one, who took it away and why stays."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: it shows another house.")})
    current = (
        ProblemPhoto.objects.of(organisation).select_for_update(of=("self",)).select_related("actual").get(pk=photo.pk)
    )
    if current.removed_at:
        raise ValidationError(gettext("This photo is removed already."))
    if not may_remove_photo(user=user, photo=current):
        raise ValidationError(
            gettext("Only the person who added this photo can take it away, or whoever plans the work.")
        )
    current.data = current.thumbnail = None
    current.removed_at, current.removed_by, current.removed_reason = timezone.now(), user, reason
    current.full_clean(exclude=["actual", "organisation"], validate_constraints=False)
    current.save(update_fields=["data", "thumbnail", "removed_at", "removed_by", "removed_reason"])
    return current


@needs(Act.RECORD)
@transaction.atomic
def resolve(*, organisation: Organisation, user: User, actual: Actual, how: str) -> ProblemSettled:
    """A problem is put right. Raises ValidationError when it is already, or nothing is said of how."""
    how = " ".join(how.split())
    if not how:
        raise ValidationError(
            {"how": gettext("Say in a few words how, for example: bent again and checked on the floor.")}
        )
    current = Actual.objects.of(organisation).select_for_update(of=("self",)).get(pk=actual.pk)
    if ProblemSettled.objects.filter(actual=current).exists():
        raise ValidationError(gettext("This problem is corrected already. Load the page again to see how."))
    settled = ProblemSettled(organisation=organisation, actual=current, how=how, by=user)
    settled.full_clean(exclude=["organisation"], validate_constraints=False)
    settled.save()
    return settled
