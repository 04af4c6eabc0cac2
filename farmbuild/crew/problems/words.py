"""Problems and their photos in words. Dates are those of the time zone in force."""

from __future__ import annotations

from dataclasses import dataclass

from farmbuild.common.templatetags.farm import day, moment
from farmbuild.crew.models import Actual, ProblemPhoto
from farmbuild.measure import count_noun
from farmbuild.orgs.models import User


@dataclass(frozen=True)
class ShownPhoto:
    """A photo and what it shows; ``gone`` instead when it was taken away."""

    photo: ProblemPhoto
    alt: str
    gone: str
    added: str


def name_of(user: User | None) -> str:
    return user.display_name if user else "someone"


def who_of(actual: Actual) -> str:
    return str(actual.person) if actual.person else name_of(actual.by)


def photos_shown(actual: Actual) -> list[ShownPhoto]:
    """In order. ``actual`` comes with its photos (``selectors.with_photos``)."""
    photos = list(actual.photos.all())
    return [
        ShownPhoto(photo, alt_of(photo, actual, among=len(photos)), gone_words(photo), added_words(photo))
        for photo in photos
    ]


def alt_of(photo: ProblemPhoto, actual: Actual, *, among: int = 1) -> str:
    which = f"Photo {photo.position} of {among}" if among > 1 else "Photo"
    return f"{which} with the problem: {actual.problem.rstrip('.')}, {day(actual.when)}"


def added_words(photo: ProblemPhoto) -> str:
    """Empty for one that came with the problem."""
    return "" if photo.added_at is None else f"Added on {moment(photo.added_at)} by {name_of(photo.added_by)}."


def gone_words(photo: ProblemPhoto) -> str:
    if photo.removed_at is None:
        return ""
    on = day(photo.removed_at)
    return f"A photo was removed on {on} by {name_of(photo.removed_by)}: {photo.removed_reason}"


def count_words(actual: Actual) -> str:
    """How many photos are there, such as 1 photo; empty for none."""
    count = sum(photo.removed_at is None for photo in actual.photos.all())
    return count_noun(count, "photo") if count else ""
