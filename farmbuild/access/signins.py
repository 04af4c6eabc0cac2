"""Sign-ins in use: begun, seen, listed and ended."""

from __future__ import annotations

import time
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.base import SessionBase
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from farmbuild.access.limits import lasting_of
from farmbuild.access.models import Session
from farmbuild.access.places import place_of
from farmbuild.access.sessions import KEPT
from farmbuild.orgs.models import User

#: Seconds; being seen is written no more often than this.
SEEN_EVERY = 300


def begin(request: HttpRequest, user: User) -> None:
    """Within signing in: the session says of whom it is, from where, and how long it lasts."""
    now = time.time()
    request.session[KEPT] = {"begun": now, "seen": now, **place_of(request), **_lasting(user)}


def _lasting(user: User) -> dict[str, float]:
    lasting = lasting_of(user)
    return {"idle": lasting.idle.total_seconds(), "longest": lasting.longest.total_seconds()}


def is_over(session: SessionBase, now: float) -> bool:
    """Whether the time of a signed-in session is up; one that says nothing of itself is none of ours."""
    kept: dict[str, Any] | None = session.get(KEPT)
    if not kept:
        return True
    return now - kept["seen"] > kept["idle"] or now - kept["begun"] > kept["longest"]


def is_over_now(session: SessionBase) -> bool:
    return is_over(session, time.time())


def mark_seen(request: HttpRequest, now: float) -> None:
    """Now and then, and with what the roles of the user allow by then."""
    kept = request.session[KEPT]
    if now - kept["seen"] >= SEEN_EVERY:
        request.session[KEPT] = kept | {"seen": now} | _lasting(request.user)


def in_use(*, user: User) -> QuerySet[Session]:
    """The one seen last stands first."""
    return Session.objects.filter(user=user, expire_date__gt=timezone.now()).order_by("-seen_at")


def handle_of(session_key: str) -> str:
    """What a page calls a session by: the key itself signs in whoever has it."""
    return salted_hmac("farmbuild.access.signins", session_key, algorithm="sha256").hexdigest()[:32]


def end(*, user: User, handle: str) -> int:
    """How many ended: none where it is over already, or never was theirs."""
    for row in in_use(user=user):
        if constant_time_compare(handle_of(row.session_key), handle):
            return Session.objects.filter(pk=row.pk).delete()[0]
    return 0


def end_all(*, user: User, but: str | None = None) -> int:
    """How many ended. ``but``: the key of the session that stays."""
    return Session.objects.filter(user=user).exclude(session_key=but or "").delete()[0]


def is_signed_in(session: SessionBase) -> bool:
    return SESSION_KEY in session
