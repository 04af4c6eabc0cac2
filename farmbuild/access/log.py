"""The log of sign-ins: one line for each that succeeded, failed or ended, and for what changes how one signs in."""

from __future__ import annotations

import logging
from datetime import timedelta

from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from farmbuild.access import telling
from farmbuild.access.models import Entry
from farmbuild.access.places import place_of
from farmbuild.orgs.models import Organisation, User

logger = logging.getLogger(__name__)
What = Entry.What
#: Older lines of a user go when the next one of theirs is written.
KEPT = timedelta(days=400)
#: What is refused again within it has no line of its own.
AGAIN = timedelta(minutes=10)


def write(
    what: Entry.What,
    *,
    user: User | None,
    request: HttpRequest | None = None,
    by: User | None = None,
    page: str = "",
) -> Entry:
    """``by``: who did it where that is not ``user``. ``page``: the address that was refused."""
    by = None if by is None or by == user else by
    now = timezone.now()
    if user is not None:
        Entry.objects.filter(user=user, at__lt=now - KEPT).delete()
    entry = Entry.objects.create(at=now, what=what, user=user, by=by, page=page[:120], **place_of(request))
    telling.tell_of(entry)
    logger.info("%s", entry.get_what_display(), extra={"what": str(what), "whose": user and user.pk})
    return entry


def write_refused(request: HttpRequest) -> None:
    """A page or a press that was refused, once in ten minutes a person and page."""
    page = request.path_info[:120]
    known = Entry.objects.filter(user=request.user, what=What.REFUSED, page=page, at__gt=timezone.now() - AGAIN)
    if not known.exists():
        write(What.REFUSED, user=request.user, request=request, page=page)


def entries_of(*, user: User) -> QuerySet[Entry]:
    """The newest first."""
    return Entry.objects.filter(user=user).select_related("user", "by")


def entries_for(*, organisation: Organisation) -> QuerySet[Entry]:
    """Of all who belong to the organisation now; the newest first."""
    return Entry.objects.filter(user__memberships__organisation=organisation).select_related("user", "by")
