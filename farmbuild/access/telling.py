"""E-mail to whose sign-in was changed, where it is set up: they may not be the one who changed it."""

from __future__ import annotations

from functools import partial

from django.db import transaction
from django.utils import timezone

from farmbuild.access import mail
from farmbuild.access.models import Entry
from farmbuild.orgs.models import User

#: Lines of the log that change how somebody signs in.
TOLD = frozenset(
    {Entry.What.PASSWORD, Entry.What.LINK_MADE, Entry.What.STEP_ON, Entry.What.STEP_OFF, Entry.What.PAPER_MADE}
)


def tell_of(entry: Entry) -> None:
    """Once what it stands for is stored."""
    if entry.user and entry.what in TOLD:
        by = entry.by.display_name if entry.by else ""
        _tell(entry.user, entry.user.email, f"{entry.get_what_display()}{f', by {by}' if by else ''}", entry)


def tell_of_address(user: User, before: str) -> None:
    """At the address before, which is theirs for certain."""
    _tell(user, before, f"E-mail address changed to {user.email or 'none'}")


def _tell(user: User, to: str, what: str, entry: Entry | None = None) -> None:
    if to and mail.is_set_up():
        given = {"user": user, "what": what, "at": timezone.now(), "entry": entry}
        send = partial(
            mail.send, to=to, subject="Your sign-in was changed", template="access/mail/changed.txt", **given
        )
        transaction.on_commit(send)
