"""What Django tells of signing in and out goes into the log."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest

from farmbuild.access import log, signins
from farmbuild.orgs.models import User


@receiver(user_logged_in)
def signed_in(request: HttpRequest, user: User, **_: Any) -> None:
    signins.begin(request, user)
    log.write(log.What.SIGNED_IN, user=user, request=request)


@receiver(user_logged_out)
def signed_out(request: HttpRequest, user: User | None, **_: Any) -> None:
    # Where its time is up the middleware has said so; with an invented season its people are gone before they are out.
    known = user is not None and User.objects.filter(pk=user.pk).exists()
    if known and not signins.is_over_now(request.session):
        log.write(log.What.SIGNED_OUT, user=user, request=request)


@receiver(user_login_failed)
def failed(credentials: dict[str, Any], request: HttpRequest | None = None, **_: Any) -> None:
    """Of a name that there is; all others stand in the tables of axes."""
    if user := User.objects.filter(username=credentials.get("username") or "").first():
        log.write(log.What.WRONG_PASSWORD, user=user, request=request)
