"""Photos of a bender as it comes back: added, shown and taken away. No bytes are read but where they are asked for."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.models import MAX_PHOTOS, BenderBooking, BookingPhoto, Member
from farmbuild.crew.problems.pictures import Picture
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User


def photos_of(*, organisation: Organisation) -> QuerySet[BookingPhoto]:
    """Also those taken away."""
    rows = BookingPhoto.objects.of(organisation)
    return rows.select_related("booking__bender", "booking__member", "added_by", "removed_by")


def photos_of_booking(*, booking: BenderBooking) -> QuerySet[BookingPhoto]:
    return photos_of(organisation=booking.organisation).filter(booking=booking)


def photos_of_member(*, member: Member) -> QuerySet[BookingPhoto]:
    """Of benders that the member brought back."""
    return photos_of(organisation=member.organisation).filter(booking__member=member)


def photo_bytes(*, photo: BookingPhoto, small: bool) -> bytes:
    """JPEG bytes, read now."""
    name = "thumbnail" if small else "data"
    return bytes(BookingPhoto.objects.filter(pk=photo.pk).values_list(name, flat=True).get())


def attach_photos(*, booking: BenderBooking, user: User, pictures: Sequence[Picture]) -> None:
    """Within the transaction of the act that they belong to. Raises ValidationError at "photos"."""
    there = list(BookingPhoto.objects.filter(booking=booking).values_list("sha256", "removed_at"))
    if len(there) + len(pictures) > MAX_PHOTOS:
        raise ValidationError(
            {
                "photos": gettext("Up to %(most)s photos go with one return; it has %(there)s, removed ones included.")
                % {"most": MAX_PHOTOS, "there": len(there)}
            }
        )
    kept = [digest for digest, removed_at in there if removed_at is None]
    kept += [sha256(picture.data).hexdigest() for picture in pictures]
    if len(set(kept)) < len(kept):
        raise ValidationError({"photos": gettext("This photo is there already. Choose another one.")})
    for position, picture in enumerate(pictures, len(there) + 1):
        photo = BookingPhoto(
            organisation=booking.organisation,
            booking=booking,
            position=position,
            data=picture.data,
            thumbnail=picture.thumbnail,
            sha256=sha256(picture.data).hexdigest(),
            width=picture.width,
            height=picture.height,
            added_by=user,
        )
        photo.full_clean(exclude=["booking", "organisation", "added_by"], validate_constraints=False)
        photo.save()


@needs(Act.BENDERS)
@transaction.atomic
def add_photos(*, organisation: Organisation, user: User, booking: BenderBooking, photos: Sequence[Picture]) -> int:
    """Later than the return; gives how many. Raises ValidationError at "photos"."""
    # Of two who add at once the second sees what the first added.
    current = BenderBooking.objects.of(organisation).select_for_update().get(pk=booking.pk)
    if current.state != BenderBooking.State.BACK:
        raise ValidationError({"photos": gettext("Photos are of a bender that came back. Check it in first.")})
    if not photos:
        raise ValidationError({"photos": gettext("Choose a photo.")})
    attach_photos(booking=current, user=user, pictures=photos)
    return len(photos)


@needs(Act.BENDERS)
@transaction.atomic
def remove_photo(*, organisation: Organisation, user: User, photo: BookingPhoto, reason: str) -> BookingPhoto:
    """The photo goes for good; that there was one, who took it away and why stays."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: it shows another bender.")})
    current = BookingPhoto.objects.of(organisation).select_for_update(of=("self",)).get(pk=photo.pk)
    if current.removed_at:
        raise ValidationError(gettext("This photo is removed already."))
    current.data = current.thumbnail = None
    current.removed_at, current.removed_by, current.removed_reason = timezone.now(), user, reason[:200]
    current.save(update_fields=["data", "thumbnail", "removed_at", "removed_by", "removed_reason"])
    return current
