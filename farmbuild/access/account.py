"""What somebody changes of their own sign-in."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from farmbuild.access import log, signins, telling
from farmbuild.orgs.models import User

#: How somebody reads pages: chosen by themselves, and nobody else's page changes with it.
READS = frozenset({"language", "units", "large_letters"})


def fresh(*, user: User) -> User:
    """A row of its own, so that what a form refuses does not stand in the bar of the page."""
    return User.objects.get(pk=user.pk)


@transaction.atomic
def save_person(*, user: User, first_name: str, email: str, **reads: Any) -> User:
    """``reads``: any of READS. Raises ValidationError by field."""
    current = User.objects.select_for_update().get(pk=user.pk)
    before = current.email
    current.first_name, current.email = first_name.strip(), email.strip()
    for name in READS & reads.keys():
        setattr(current, name, reads[name])
    current.full_clean(exclude=["password", "username"])
    current.save(update_fields=["first_name", "email", *READS])
    if before != current.email:
        telling.tell_of_address(current, before)
    return current


@transaction.atomic
def end_sign_ins(*, user: User, handle: str, own: str) -> int:
    """How many ended: the one of this handle, or without one all but ``own``, the key of the session that asks."""
    ended = signins.end(user=user, handle=handle) if handle else signins.end_all(user=user, but=own)
    if ended:
        log.write(log.What.ENDED, user=user)
    return ended


@transaction.atomic
def password_changed(*, user: User, own: str | None = None) -> None:
    """Ends what was signed in with the old one; Django lets it go no further anyway."""
    signins.end_all(user=user, but=own)
    log.write(log.What.PASSWORD, user=user)
