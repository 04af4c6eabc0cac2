"""Calendars served by their secret address: made, revoked, and answered as iCalendar (RFC 5545)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from hashlib import sha256
from secrets import token_urlsafe
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe
from icalendar import Calendar, Event

from farmbuild.crew.models import CalendarFeed, Member, Person
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import one_line
from farmbuild.orgs.acts import Act, check_may, needs
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.languages import in_shared_language
from farmbuild.orgs.models import Organisation, User

#: "bender", "person" or "member": what makes the calendar of such a feed. Each part adds its own when its addresses
#: are read.
MAKERS: dict[str, Callable[[CalendarFeed], Calendar]] = {}

_COOKIE = "calendar"


def _open(
    organisation: Organisation, bender: Bender | None, person: Person | None, member: Member | None
) -> QuerySet[CalendarFeed]:
    rows = CalendarFeed.objects.of(organisation).filter(bender=bender, person=person, member=member)
    return rows.filter(revoked_at=None)


def open_feed(
    *,
    organisation: Organisation,
    bender: Bender | None = None,
    person: Person | None = None,
    member: Member | None = None,
) -> CalendarFeed | None:
    """The one that can be read now."""
    return _open(organisation, bender, person, member).first()


def _check_whose(organisation: Organisation, user: User | None, person: Person | None) -> None:
    """Of oneself; of others who plans; of benders and members who runs them."""
    if user and not (person and person.user_id == user.pk):
        check_may(organisation=organisation, user=user, act=Act.PLAN if person else Act.BENDERS)


@needs(Act.RECORD)
@transaction.atomic
def make_feed(
    *,
    organisation: Organisation,
    user: User,
    bender: Bender | None = None,
    person: Person | None = None,
    member: Member | None = None,
) -> CalendarFeed:
    """A feed of the bender, person or member, one of which is given. The address of the one before stops for good.

    The feed knows its ``secret`` and address now, and never again.
    """
    _check_whose(organisation, user, person)
    return make_of(organisation, bender, person, member)


def make_of(
    organisation: Organisation, bender: Bender | None, person: Person | None, member: Member | None
) -> CalendarFeed:
    """Within the transaction of whoever may."""
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    of = bender or person or member
    if of is None or of.organisation_id != organisation.pk:
        raise ValueError("A feed is of a bender, a person or a member of the organisation.")
    _open(organisation, bender, person, member).update(revoked_at=timezone.now())
    # 43 letters of 256 random bits.
    secret = token_urlsafe(32)
    digest = digest_of(secret)
    feed = CalendarFeed(organisation=organisation, digest=digest, bender=bender, person=person, member=member)
    feed.full_clean()
    feed.save()
    feed.secret = secret
    return feed


def digest_of(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


@needs(Act.RECORD)
@transaction.atomic
def revoke_feed(
    *,
    organisation: Organisation,
    user: User,
    bender: Bender | None = None,
    person: Person | None = None,
    member: Member | None = None,
) -> None:
    """The address of the open feed, where there is one, answers "not found" from now on, for good."""
    _check_whose(organisation, user, person)
    revoke_of(organisation, bender, person, member)


def revoke_of(organisation: Organisation, bender: Bender | None, person: Person | None, member: Member | None) -> None:
    """Within the transaction of whoever may."""
    _open(organisation, bender, person, member).update(revoked_at=timezone.now())


def handed_over(response: HttpResponse, feed: CalendarFeed) -> HttpResponse:
    """With the address for the page that comes next, in the browser that asked for it and nowhere else."""
    response.set_signed_cookie(
        _COOKIE, feed.secret, max_age=60, secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Strict"
    )
    return response


def shown_of(request: HttpRequest, **of: Any) -> dict[str, Any]:
    """For the page of a calendar: the ``feed`` that is open, and its whole ``address`` where it was just made."""
    found = open_feed(organisation=next(iter(of.values())).organisation, **of)
    secret = request.get_signed_cookie(_COOKIE, default="", max_age=60)
    if found is None or found.digest != digest_of(secret):
        return {"feed": found, "address": ""}
    found.secret = secret
    return {"feed": found, "address": request.build_absolute_uri(found.get_absolute_url())}


def forgotten(response: HttpResponse) -> HttpResponse:
    """The page has been shown, so its address is kept no longer."""
    response.delete_cookie(_COOKIE, samesite="Strict")
    return response


def feed_of_secret(secret: str) -> CalendarFeed | None:
    """With the bender, person, member and organisation loaded; None for one that never was or is revoked."""
    rows = CalendarFeed.objects.select_related("bender", "person", "member", "organisation")
    return rows.filter(digest=digest_of(secret), revoked_at=None).first()


def new_calendar(name: str) -> Calendar:
    """An empty one; ``name`` is shown by programs that know the property."""
    calendar = Calendar()
    calendar.add("prodid", "-//farmbuild//calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", one_line(name))
    return calendar


def new_event(*, uid: str, stamp: datetime, summary: str) -> Event:
    """``uid`` stays for good; ``stamp`` is when what it says was last changed. The caller adds DTSTART and DTEND."""
    event = Event()
    event.add("uid", f"{uid}@farmbuild")
    event.add("dtstamp", stamp.astimezone(UTC))
    event.add("summary", one_line(summary))
    return event


@require_safe
@login_not_required
def serve(request: HttpRequest, secret: str) -> HttpResponse:
    """The calendar, to whoever has the address; nothing else can be reached by it."""
    feed = feed_of_secret(secret)
    if feed is None:
        raise Http404("There is no such calendar.")
    maker = MAKERS["bender" if feed.bender_id else "person" if feed.person_id else "member"]
    with zone_in_force(feed.organisation), in_shared_language(feed.organisation):
        calendar = maker(feed).to_ical()
    response = HttpResponse(calendar, content_type="text/calendar; charset=utf-8")
    response["Cache-Control"] = "private, no-store"
    response["Content-Disposition"] = 'inline; filename="calendar.ics"'
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"
    return response
