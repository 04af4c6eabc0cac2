"""A link to a new password by e-mail. What is answered is the same whether there is such a name or not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.db.models import Q
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import log, mail
from farmbuild.access.models import Entry
from farmbuild.access.places import place_of
from farmbuild.orgs.languages import in_language_of
from farmbuild.orgs.models import User
from farmbuild.orgs.password_links import DAYS, password_path

#: Links in an hour: of one person, and asked for from one address.
MOST, MOST_HERE, WITHIN = 3, 10, timedelta(hours=1)


def send_link(*, typed: str, request: HttpRequest) -> None:
    """To each person who signs in by this name, or has this e-mail address."""
    wanted = typed.strip()
    here = place_of(request)["address"]
    recent = Entry.objects.filter(what=Entry.What.LINK_SENT, at__gt=timezone.now() - WITHIN)
    if not wanted or (here and recent.filter(address=here).count() >= MOST_HERE):
        return
    people = User.objects.filter(Q(username=wanted) | Q(email__iexact=wanted), is_active=True).exclude(email="")
    for user in people[:MOST]:
        if recent.filter(user=user).count() < MOST:
            _send(user, request.build_absolute_uri)
            log.write(log.What.LINK_SENT, user=user, request=request)


def _send(user: User, absolute: Callable[[str], str]) -> None:
    with in_language_of(user):
        mail.send(
            to=user.email,
            subject=gettext("A new password"),
            template="access/mail/password.txt",
            user=user,
            address=absolute(password_path(user)),
            days=DAYS,
        )
