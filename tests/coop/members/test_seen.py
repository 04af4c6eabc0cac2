"""What a member sees at its cooperative: as a visitor, and as the people of its farm."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.coop.members import panels
from farmbuild.coop.members.panels import Panel
from farmbuild.crew.models import BenderRequest, CalendarFeed
from farmbuild.orgs.acts import Role
from farmbuild.orgs.clock import today_of
from tests.client import plain
from tests.crew.own import first_page, own
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    MemberFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
)
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def row():
    return MemberFarmFactory(
        member__name="Alder Patch",
        member__organisation__name="Hill Benders",
        member__organisation__time_zone="Europe/Vienna",
        farm__name="Alder Farm",
    )


@pytest.fixture
def day(row):
    return today_of(organisation=row.organisation)


def signed_in_as(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


def of_farm(row, role=Role.OWNER) -> Client:
    return signed_in_as(MembershipFactory(organisation=row.farm, role=role).user)


def test_a_visitor_and_the_people_of_a_farm_see_the_same(row, day):
    bender = BenderFactory(organisation=row.organisation, name="West bender")
    BenderBookingFactory(bender=bender, member=row.member, first=day + timedelta(days=2))
    BenderBookingFactory(bender=bender, member=MemberFactory(organisation=row.organisation), first=day, last=day)
    said = []
    for client in (of_farm(row), signed_in_as(MemberSignInFactory(member=row.member).user)):
        page = re.sub(r"<[^>]*>", "", text_of(client.get(first_page())))
        assert "0 out with you" in page and "next from" in page and "0 free today" in page
        said.append(page[page.index("You are here for Alder Patch") : page.index("Run by Hill Benders")])
    assert said[0] == said[1]


def test_the_people_of_a_farm_ask_withdraw_and_have_a_calendar(row, day):
    BenderFactory(organisation=row.organisation)
    client = of_farm(row)
    sent = {"days": 2, "earliest": day, "need_by": day + timedelta(days=9)}
    assert client.post(own("ask"), sent)["Location"] == own()
    asked = BenderRequest.objects.get()
    assert (asked.member, asked.organisation, asked.asked_by_id) == (
        row.member,
        row.organisation,
        int(client.session["_auth_user_id"]),
    )
    assert client.get(own("request", asked.pk)).status_code == 200
    client.post(own("withdraw", asked.pk))
    client.post(own("calendar-make"))
    asked.refresh_from_db()
    assert (asked.state, CalendarFeed.objects.get().member) == ("withdrawn", row.member)
    assert "Alder Patch" in text_of(client.get(own("calendar")))


@pytest.mark.parametrize("role", [Role.LOOKS, Role.CREW])
def test_who_may_not_ask_for_the_farm_asks_nothing(row, day, role):
    client = of_farm(row, role)
    sent = {"days": 1, "earliest": day, "need_by": day}
    assert client.post(own("ask"), sent).status_code == 403
    assert client.post(own("calendar-make")).status_code == 403
    assert not BenderRequest.objects.exists() and not CalendarFeed.objects.exists()
    page = client.get(first_page())
    assert page.status_code == (200 if role == Role.LOOKS else 403)
    assert own("ask") not in page.content.decode()


def test_addresses_of_before_lead_on_with_what_was_typed(row, day):
    client = plain(signed_in_as(MemberSignInFactory(member=row.member).user))
    for tail in ("", "bookings/3/", "days/?from=2087-01-05", "calendar/"):
        assert client.get(f"/borrowing/{tail}")["Location"] == f"{first_page()}{tail}"
    sent = {"days": 1, "earliest": day, "need_by": day, "once": "a" * 20}
    answer = client.post("/borrowing/ask/", sent, follow=True)
    assert answer.redirect_chain[0] == (own("ask"), 307) and answer.status_code == 200
    assert BenderRequest.objects.get().member == row.member
    farmer = plain(of_farm(row))
    within = f"/of/{row.farm.slug}"
    assert farmer.get("/borrowing/days/", follow=True).redirect_chain[-1][0] == f"{within}{own('days')}"
    stranger = MembershipFactory()
    assert signed_in_as(stranger.user).get("/borrowing/").status_code == 404


def test_other_rooms_show_what_they_have_and_amounts_to_whom_may_see_them(row, monkeypatch):
    shown = [
        Panel(20, "parts/empty.html", lambda member, today: None),
        Panel(10, "coop/members/crumbs.html", lambda member, today: {"whose": member.name}, costs=True),
    ]
    monkeypatch.setattr(panels, "PANELS", shown)
    link = f'href="{first_page()}"'
    visitor = signed_in_as(MemberSignInFactory(member=row.member).user)
    clients = (of_farm(row), of_farm(row, Role.LOOKS), visitor)
    counts = [client.get(first_page()).content.decode().count(link) for client in clients]
    assert counts[0] == counts[2] == counts[1] + 1


def test_of_two_cooperatives_each_page_is_of_the_one_in_its_address(row):
    other = MemberFarmFactory(farm=row.farm, member__organisation__name="Lake Benders", member__name="Number 9")
    client = of_farm(row)
    for each in (row, other):
        page = text_of(client.get(reverse("coop:seen", args=[each.organisation.slug])))
        assert f"You are here for {each.member.name}." in page
        mine = BenderBookingFactory(bender__organisation=each.organisation, member=each.member)
        for lender, status in ((row.organisation, 200), (other.organisation, 200)):
            wanted = status if lender == each.organisation else 404
            address = reverse("crew:own-booking", args=[lender.slug, mine.pk])
            assert client.get(address).status_code == wanted
