"""Between the steps: the password was right, and the code of the second step is still to come."""

from __future__ import annotations

import time

from django.contrib.auth import login
from django.http import HttpRequest
from django.utils.crypto import constant_time_compare

from farmbuild.access import second_step
from farmbuild.orgs.models import User

_KEPT = "half"
#: How long the code may take, in seconds.
SECONDS = 600
_BACKEND = "django.contrib.auth.backends.ModelBackend"


def needs_code(request: HttpRequest, user: User, *, to: str) -> bool:
    """Whether a code is asked next; who signs in is kept until then, and is not signed in yet."""
    if not second_step.is_on(user=user):
        return False
    request.session.cycle_key()
    request.session[_KEPT] = {"user": user.pk, "at": time.time(), "hash": user.get_session_auth_hash(), "to": to}
    return True


def waiting(request: HttpRequest) -> User | None:
    """Whose code is awaited; None once it takes too long, or where the password is another since."""
    kept = request.session.get(_KEPT)
    if not kept or time.time() - kept["at"] > SECONDS:
        return None
    user = User.objects.filter(pk=kept["user"], is_active=True).first()
    return user if user and constant_time_compare(kept["hash"], user.get_session_auth_hash()) else None


def finish(request: HttpRequest, user: User) -> str:
    """Signs in, under another key of the session; where to go on."""
    to: str = request.session.pop(_KEPT)["to"]
    sign_in(request, user)
    return to


def sign_in(request: HttpRequest, user: User) -> None:
    """Where no code is asked."""
    login(request, user, backend=_BACKEND)
