"""E-mail to whose sign-in was changed, where it is set up: they may not be the one who changed it."""

from __future__ import annotations

from functools import partial

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import mail
from farmbuild.access.models import Entry
from farmbuild.orgs.languages import in_language_of
from farmbuild.orgs.models import User

#: Lines of the log that change how somebody signs in.
TOLD = frozenset(
    {Entry.What.PASSWORD, Entry.What.LINK_MADE, Entry.What.STEP_ON, Entry.What.STEP_OFF, Entry.What.PAPER_MADE}
)


def tell_of(entry: Entry) -> None:
    """Once what it stands for is stored."""
    if entry.user and entry.what in TOLD:
        by = entry.by.display_name if entry.by else ""
        with in_language_of(entry.user):
            said = gettext(", by %(name)s") % {"name": by} if by else ""
            _tell(entry.user, entry.user.email, f"{entry.get_what_display()}{said}", entry)


def tell_of_address(user: User, before: str) -> None:
    """At the address before, which is theirs for certain."""
    with in_language_of(user):
        changed = gettext("E-mail address changed to %(email)s") % {"email": user.email or gettext("none")}
        _tell(user, before, changed)


def _tell(user: User, to: str, what: str, entry: Entry | None = None) -> None:
    if to and mail.is_set_up():
        transaction.on_commit(partial(_send, user, to, what=what, at=timezone.now(), entry=entry))


def _send(user: User, to: str, **given: object) -> None:
    with in_language_of(user):
        subject = gettext("Your sign-in was changed")
        mail.send(to=to, subject=subject, template="access/mail/changed.txt", user=user, **given)
