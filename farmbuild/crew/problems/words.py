"""Problems and their photos in words. Dates are those of the time zone in force."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext, ngettext

from farmbuild.common.templatetags.farm import day, moment
from farmbuild.crew.models import Actual, ProblemPhoto
from farmbuild.orgs.models import User


@dataclass(frozen=True)
class ShownPhoto:
    """A photo and what it shows; ``gone`` instead when it was taken away."""

    photo: ProblemPhoto
    alt: str
    gone: str
    added: str


def name_of(user: User | None) -> str:
    return user.display_name if user else gettext("someone")


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
    said = {"at": photo.position, "all": among, "problem": actual.problem.rstrip("."), "day": day(actual.when)}
    if among > 1:
        return gettext("Photo %(at)s of %(all)s with the problem: %(problem)s, %(day)s") % said
    return gettext("Photo with the problem: %(problem)s, %(day)s") % said


def added_words(photo: ProblemPhoto) -> str:
    """Empty for one that came with the problem."""
    if photo.added_at is None:
        return ""
    words = gettext("Added on %(when)s by %(name)s.")
    return words % {"when": moment(photo.added_at), "name": name_of(photo.added_by)}


def gone_words(photo: ProblemPhoto) -> str:
    if photo.removed_at is None:
        return ""
    said = {"day": day(photo.removed_at), "name": name_of(photo.removed_by), "why": photo.removed_reason}
    return gettext("A photo was removed on %(day)s by %(name)s: %(why)s") % said


def count_words(actual: Actual) -> str:
    """How many photos are there, such as 1 photo; empty for none."""
    count = sum(photo.removed_at is None for photo in actual.photos.all())
    return ngettext("%(count)s photo", "%(count)s photos", count) % {"count": count} if count else ""
