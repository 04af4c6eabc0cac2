"""Photos of benders that came back, as pages show them: where they lead and what they are, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils.cache import get_conditional_response, patch_cache_control
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day, moment
from farmbuild.crew.bookings.photos import photo_bytes
from farmbuild.crew.models import BookingPhoto
from farmbuild.crew.problems.words import name_of

_OURS = ("crew:booking-photo", "crew:booking-photo-small")


@dataclass(frozen=True)
class ReturnPhoto:
    """``page`` and ``small``: addresses; ``gone``: said instead where it was taken away."""

    photo: BookingPhoto
    page: str
    small: str
    alt: str
    gone: str


def photos_told(photos: Iterable[BookingPhoto], *, lender: str = "") -> list[ReturnPhoto]:
    """In order. ``lender``: the slug of the cooperative, for the pages of its member. By the time zone in force."""
    page, small = ("coop:seen-photo", "coop:seen-photo-small") if lender else _OURS
    return [
        ReturnPhoto(
            photo=row,
            page=reverse(page, args=[lender, row.pk] if lender else [row.pk]),
            small=reverse(small, args=[lender, row.pk] if lender else [row.pk]),
            alt=alt_of(row),
            gone=gone_of(row),
        )
        for row in photos
    ]


def alt_of(photo: BookingPhoto) -> str:
    return gettext("Photo %(position)s of %(bender)s as it came back, %(added_at)s") % {
        "position": photo.position,
        "bender": photo.booking.bender,
        "added_at": day(photo.added_at),
    }


def added_of(photo: BookingPhoto) -> str:
    return gettext("Added on %(added_at)s by %(added_by)s.") % {
        "added_at": moment(photo.added_at),
        "added_by": name_of(photo.added_by),
    }


def gone_of(photo: BookingPhoto) -> str:
    if photo.removed_at is None:
        return ""
    return gettext("A photo was removed on %(removed_at)s by %(removed_by)s: %(removed_reason)s") % {
        "removed_at": day(photo.removed_at),
        "removed_by": name_of(photo.removed_by),
        "removed_reason": photo.removed_reason,
    }


def photo_answer(request: HttpRequest, photo: BookingPhoto, *, small: bool) -> HttpResponseBase:
    """JPEG bytes, kept by nobody but the browser, which asks each time whether it may still show them."""
    etag = f'"{photo.sha256}{"-small" if small else ""}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        answer = HttpResponse(photo_bytes(photo=photo, small=small), content_type="image/jpeg")
        answer.headers["Content-Disposition"] = f'inline; filename="return-{photo.booking_id}-{photo.position}.jpg"'
    answer.headers["ETag"] = etag
    answer.headers["X-Content-Type-Options"] = "nosniff"
    patch_cache_control(answer, private=True, no_cache=True)
    return answer
