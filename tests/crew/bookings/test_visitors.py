"""What a member who signs in reaches: its own pages, and of every other address of the site nothing at all."""

from __future__ import annotations

import re
from datetime import timedelta
from functools import cache
from uuid import uuid4

import pytest
from django.http import HttpResponseNotFound
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from farmbuild import urls
from farmbuild.crew.models import BenderBooking, CalendarFeed
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership
from farmbuild.orgs.visitors import LANDINGS, PAGES, READ_BY_ALL
from tests.crew.own import first_page, own
from tests.factories import BenderBookingFactory, MemberSignInFactory, PersonFactory
from tests.size import LONG

pytestmark = pytest.mark.django_db
#: What stands in an address for each kind of part.
PARTS = {"int": "1", "slug": "one", "str": "one", "uuid": str(uuid4()), "path": "one"}
WAYS = ("get", "head", "post", "put", "patch", "delete", "options")
OTHER_WAYS = tuple(way for way in WAYS if way not in ("get", "post"))


@cache
def every_address():
    """(name with its namespaces, an address of it) of every pattern that the site answers people at."""
    return _addresses(get_resolver().url_patterns)


def _addresses(patterns, before="", names=()):
    found = []
    for part in patterns:
        route = before + str(part.pattern)
        # No sign-in counts there: tests/api has who is let in.
        if route == "api/":
            continue
        if isinstance(part, URLPattern):
            # Two of the administration are regular expressions: any of these words, and whatever is left.
            address = route.replace("(?P<url>.*)$", "one")
            address = re.sub(r"\^?\(\?P<\w+>(\w+)[^)]*\)", r"\1", address).rstrip("$")
            address = re.sub(r"<(?:(\w+):)?\w+>", lambda match: PARTS[match[1] or "str"], address)
            found.append((":".join([*names, part.name or ""]), f"/{address}"))
        else:
            inner = [*names, part.namespace] if part.namespace else names
            found += _addresses(part.url_patterns, route, inner)
    return found


@pytest.fixture
def visitor(organisation):
    return MemberSignInFactory(member__organisation=organisation, member__name="Alder Patch")


@pytest.fixture
def browser(visitor):
    """Errors are raised, not answered."""
    client = Client()
    client.force_login(visitor.user)
    return client


def test_the_walk_finds_the_whole_site():
    addresses = every_address()
    names = {name for name, _ in addresses}
    assert len(names) > 150
    assert {"sites:houses", "plans:plans", "crew:day", "stock:lots", "admin:index", "common:understood"} <= names
    assert names >= PAGES | READ_BY_ALL
    # The rest have no name: old addresses of the administration and what it answers where nothing else does.
    # The sign-in of the administration is hidden by the one of the site.
    named = [(name, address) for name, address in addresses if not name.endswith(":") and name != "admin:login"]
    assert all(address.startswith("/admin/") for name, address in addresses if name.endswith(":"))
    assert [row for row in named if _name_of(row[1]) != row[0]] == []


def test_every_other_address_is_denied_in_every_way_of_asking(browser, monkeypatch):
    # A thousand times the same page, which other tests read.
    monkeypatch.setattr(urls, "handler404", lambda request, exception: HttpResponseNotFound(), raising=False)
    reached, asked = [], []
    for at, (name, address) in enumerate(every_address()):
        if name in PAGES | READ_BY_ALL:
            continue
        # In the usual run what is opened and what is sent, and another way in turn: one gate stands before all of them.
        # Of the administration, with its five hundred addresses, one way each.
        admin, ways = name.startswith("admin:"), WAYS
        if not LONG:
            ways = (WAYS[at % len(WAYS)],) if admin else ("get", "post", OTHER_WAYS[at % len(OTHER_WAYS)])
        for way in ways:
            asked.append((name, way))
            answer = getattr(browser, way)(address)
            if name in LANDINGS and way in ("get", "head"):
                allowed = (answer.status_code, answer.headers.get("Location")) == (302, reverse("crew:own-before"))
            else:
                allowed = answer.status_code == 404
            if not allowed:
                reached.append((name, way, address, answer.status_code))
    assert not reached
    for admin in (False, True):
        assert {way for name, way in asked if name.startswith("admin:") == admin} == set(WAYS)


def test_denied_for_rows_that_are_there_and_nothing_changes(browser, organisation, visitor):
    """The same rows that staff of the organisation open and change."""
    booking = BenderBookingFactory(bender__organisation=organisation, member=visitor.member)
    person = PersonFactory(crew__organisation=organisation)
    staff = Client()
    staff.force_login(Membership.objects.create(organisation=organisation, user=_user()).user)
    pages = [
        reverse("crew:booking", args=[booking.pk]),
        reverse("crew:booking-move", args=[booking.pk]),
        reverse("crew:member", args=[visitor.member.slug]),
        reverse("crew:member-sign-in", args=[visitor.member.slug, visitor.pk]),
        reverse("crew:bender-feed", args=[booking.bender.slug]),
        reverse("crew:person-feed", args=[person.slug]),
        f"{reverse('crew:day')}?person={person.slug}",
        reverse("crew:day"),
        reverse("crew:requests"),
        reverse("crew:proposal"),
        reverse("orgs:organisation"),
        reverse("sites:houses"),
    ]
    for page in pages:
        assert staff.get(page).status_code == 200, page
        assert browser.get(page).status_code in (404, 302), page
    for name, args in (
        ("crew:booking-cancel", [booking.pk]),
        ("crew:member-archive", [visitor.member.slug]),
        ("crew:bender-feed-make", [booking.bender.slug]),
        ("crew:person-feed-make", [person.slug]),
        ("crew:member-sign-in-renew", [visitor.member.slug, visitor.pk]),
    ):
        assert browser.post(reverse(name, args=args)).status_code == 404, name
    booking.refresh_from_db()
    visitor.member.refresh_from_db()
    assert (booking.state, visitor.member.archived_at) == ("booked", None)
    assert not CalendarFeed.objects.exists()


def _user():
    from tests.factories import UserFactory

    return UserFactory()


@pytest.mark.parametrize("more", [{"is_staff": True}, {"is_superuser": True, "is_staff": True}])
def test_no_other_flag_and_no_membership_opens_more(browser, organisation, visitor, more):
    for name, value in more.items():
        setattr(visitor.user, name, value)
    visitor.user.save()
    Membership.objects.create(organisation=organisation, user=visitor.user)
    for name in ("admin:index", "orgs:organisation", "crew:shared", "stock:lots"):
        assert browser.get(reverse(name)).status_code == 404, name
    assert browser.get(own()).status_code == 200


def test_the_pages_of_members_are_of_members_alone(signed_in, organisation):
    """Not even of the people of the cooperative."""
    for name in {name for name in PAGES if name.startswith(("crew:own", "coop:"))}:
        address = dict(every_address())[name].replace("/one/", f"/{organisation.slug}/")
        assert signed_in.get(address).status_code in (404, 405), name
        assert signed_in.post(address).status_code in (404, 405), name
        assert Client().get(address)["Location"].startswith(reverse("sign-in")), name


def test_no_page_of_a_visitor_leads_anywhere_else(browser, organisation, visitor):
    """Every address on every page of a visitor is one that it may open."""
    today = today_of(organisation=organisation)
    BenderBookingFactory(bender__organisation=organisation, member=visitor.member, first=today)
    BenderBookingFactory(
        bender__organisation=organisation, member=visitor.member, state="out", first=today - timedelta(days=9)
    )
    queue, seen = [first_page()], set()
    while queue:
        address = queue.pop()
        if address in seen:
            continue
        seen.add(address)
        answer = browser.get(address)
        assert answer.status_code == 200, address
        if not answer.headers["Content-Type"].startswith("text/html"):
            continue
        html = answer.content.decode()
        for link in re.findall(r'(?:href|action)="([^"#?]+)', html):
            if link.startswith(("/static/", "tel:", "otpauth:")):
                continue
            name = _name_of(link)
            assert name in PAGES | READ_BY_ALL | {"home"}, (address, link)
            if f'action="{link}' not in html and link != "/":
                queue.append(link)
    assert len(seen) >= 6, seen
    assert BenderBooking.objects.count() == 2


def _name_of(address):
    return get_resolver().resolve(address).view_name
