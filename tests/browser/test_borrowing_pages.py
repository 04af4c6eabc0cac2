"""The pages of a member who signs in, in Chromium: three widths, no sideways scrolling, no serious axe finding."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.crew.bookings.signins import invite_member, link_of
from farmbuild.crew.models import BenderBooking, Member
from farmbuild.demo.services import PASSWORD, visitors_of
from farmbuild.orgs.clock import today_of
from tests.browser.reading import findings, photograph, problems_of
from tests.crew.own import first_page, own

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def opened(page, address):
    page.goto(address)
    return problems_of(page, keep=address.strip("/").replace("/", "_"))


def test_from_the_link_to_a_request(page_at, live_server, demo):
    """A page without the cookie of staff: the link, a password, a request, and it is on the list."""
    organisation = demo.organisation
    member = Member.objects.of(organisation).get(name__startswith="Stonecrop")
    row = invite_member(
        organisation=organisation, user=demo.user, member=member, data={"name": "Jory", "username": "jory"}
    )
    page = page_at(390)
    page.context.clear_cookies()
    page.goto(link_of(row))
    assert not page.url.rstrip("/").endswith(link_of(row).rstrip("/").split("/")[-1]), "the token does not stay"
    photograph(page, "set-password-390")
    assert not findings(page)
    page.get_by_label("Password").fill("seven-alder-poles")
    page.get_by_label("The same once more").fill("seven-alder-poles")
    page.get_by_role("button", name="Save password and sign in").click()
    page.wait_for_url(f"**{first_page()}")
    page.get_by_role("link", name="Ask for a bender").click()
    page.get_by_label("Days in a row").fill("2")
    today = today_of(organisation=organisation).isoformat()
    page.get_by_label("From, at the earliest").fill(today)
    page.get_by_label("Back by, at the latest").fill("2087-01-05")
    page.get_by_role("button", name="Ask for it").click()
    page.wait_for_url(f"**{own()}")
    assert page.get_by_text("2 requests open").count() == 1
    page.goto("/houses/")
    assert page.url.endswith(first_page())
    assert page.request.get("/crew/benders/").status == 404


def test_every_page_of_a_member_reads_well(page_at, live_server, demo):
    (visitor,) = visitors_of(demo)
    page = page_at(1440)
    page.context.clear_cookies()
    page.goto("/sign-in/")
    page.locator("input[name=username]").fill(visitor.username)
    page.locator("input[name=password]").fill(PASSWORD)
    page.locator("button.action").click()
    page.wait_for_url(f"**{first_page()}")
    member = visitor.member_sign_in.member
    booking = BenderBooking.objects.filter(member=member).first()
    addresses = [first_page(), *(own(name) for name in ("", "ask", "days", "calendar"))]
    addresses += [
        f"{own()}?past=1",
        own("booking", booking.pk),
        own("request", member.requests.first().pk),
    ]
    assert [problem for address in addresses for problem in opened(page, address)] == []


def test_pages_of_moving_declining_and_sign_ins_read_well(page_at, live_server, demo):
    page = page_at(1440)
    (visitor,) = visitors_of(demo)
    sign_in = visitor.member_sign_in
    booking = BenderBooking.objects.filter(member=sign_in.member).first()
    request = Member.objects.of(demo.organisation).get(name__startswith="Stonecrop").requests.first()
    addresses = [
        reverse("crew:booking", args=[booking.pk]),
        reverse("crew:booking-move", args=[booking.pk]),
        reverse("crew:request-decline", args=[request.pk]),
        reverse("crew:proposal"),
        reverse("crew:member", args=[sign_in.member.slug]),
        reverse("crew:member-sign-in-new", args=[sign_in.member.slug]),
        sign_in.get_absolute_url(),
    ]
    assert [problem for address in addresses for problem in opened(page, address)] == []
