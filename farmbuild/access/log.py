"""The log of sign-ins: one line for each that succeeded, failed or ended, and for what changes how one signs in."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from farmbuild.access.models import Entry
from farmbuild.access.places import place_of
from farmbuild.orgs.models import Organisation, User

What = Entry.What
#: Older lines of a user go when the next one of theirs is written.
KEPT = timedelta(days=400)


def write(what: Entry.What, *, user: User | None, request: HttpRequest | None = None, by: User | None = None) -> Entry:
    """``by``: who did it where that is not ``user``."""
    by = None if by is None or by == user else by
    now = timezone.now()
    if user is not None:
        Entry.objects.filter(user=user, at__lt=now - KEPT).delete()
    return Entry.objects.create(at=now, what=what, user=user, by=by, **place_of(request))


def entries_of(*, user: User) -> QuerySet[Entry]:
    """The newest first."""
    return Entry.objects.filter(user=user).select_related("user", "by")


def entries_for(*, organisation: Organisation) -> QuerySet[Entry]:
    """Of all who belong to the organisation now; the newest first."""
    return Entry.objects.filter(user__memberships__organisation=organisation).select_related("user", "by")
