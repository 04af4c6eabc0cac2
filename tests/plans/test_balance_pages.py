"""The page of what a house holds shows where every row of it is, and what is too much."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.putting_back import FOR_JOINTS
from farmbuild.sites.models import House
from tests.factories import FOOT, HouseFactory, MembershipFactory
from tests.plans.test_planning_again import bend_all, send_and_receive


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


def rows_of(answer):
    return {row.purpose: row for row in answer.context["balance"].rows}


def test_every_row_adds_up_on_the_page(signed_in, accepted, season, user):
    send_and_receive(accepted, user, 0.5)
    bend_all(season.houses[0], user)
    hoops = rows_of(signed_in.get("/houses/north-1/held/"))["hoops"]
    assert (hoops.needed, hoops.in_house, hoops.to_find) == (26, 26, 0)
    text = signed_in.get("/houses/creek-1/held/").content.decode()
    assert "Every row adds up" in text and "still to find" in text
    hoops = rows_of(signed_in.get("/houses/creek-1/held/"))["hoops"]
    assert hoops.held + hoops.on_order == 26 and hoops.held > 0 and hoops.on_order > 0


def test_what_is_still_to_find_is_said_first(signed_in, accepted, season):
    assert "rows still to find" not in signed_in.get("/houses/north-1/held/").content.decode()
    House.objects.filter(slug="north-1").update(length=FOOT * 52)
    answer = signed_in.get("/houses/north-1/held/")
    assert rows_of(answer)["hoops"].to_find == 2
    assert f"{len(answer.context['balance'].short)} rows still to find" in answer.content.decode()


def test_a_shrunk_house_says_what_to_do_with_what_is_over(signed_in, accepted, season, user):
    send_and_receive(accepted, user, 1)
    bend_all(season.houses[0], user)
    House.objects.filter(slug="north-1").update(length=FOOT * 40)
    text = signed_in.get("/houses/north-1/held/").content.decode()
    assert "use them for another house of the same recipe" in text
    # What is over here is cut for the house, or held for joints, of which a plan with other sticks may need more.
    assert FOR_JOINTS in unescape(text) and ">Release " in text


def test_a_house_that_cannot_be_built_still_has_its_page(signed_in, accepted):
    House.objects.filter(slug="north-1").update(post_span=FOOT * 60)
    answer = signed_in.get("/houses/north-1/held/")
    assert answer.status_code == 200 and "balance" not in answer.context


def test_an_archived_house_still_has_its_page(signed_in, season, user):
    House.objects.filter(slug="north-1").update(archived_at=timezone.now())
    hoops = rows_of(signed_in.get("/houses/north-1/held/"))["hoops"]
    assert (hoops.needed, hoops.to_find) == (26, 26)


def test_another_organisation_sees_nothing_of_it(client, accepted):
    client.force_login(MembershipFactory().user)
    assert client.get("/houses/north-1/held/").status_code == 404


def test_many_houses_cost_as_many_queries_as_one(season, organisation, django_assert_num_queries):
    houses = list(House.objects.all())
    with CaptureQueriesContext(connection) as few:
        balances(organisation=organisation, houses=houses[:1])
    for n in range(8):
        HouseFactory(site=season.north, name=f"More {n}", slug=f"more-{n}", recipe=houses[0].recipe)
    many = list(House.objects.all())
    with django_assert_num_queries(len(few)):
        balances(organisation=organisation, houses=many)


def test_the_page_of_the_house_says_where_its_pieces_are(signed_in, accepted, season, user):
    """The sentence adds up, and is the sum of the rows of the page that it leads to."""
    send_and_receive(accepted, user, 0.5)
    bend_all(season.houses[0], user)
    house = season.houses[0]
    balance = balances(organisation=season.organisation, houses=[house])[house.pk]
    counted = [row for row in balance.rows if not row.run]
    page = " ".join(signed_in.get("/houses/north-1/").content.decode().split())
    said = re.search(
        r"(\d+) pieces needed = (\d+) in the house \+ (\d+) held \+ (\d+) on order \+ (\d+) still to find", page
    )
    needed, *parts = map(int, said.groups())
    assert needed == sum(parts) == sum(row.needed for row in counted)
    assert parts[0] == sum(row.in_house for row in counted) >= 26
    House.objects.filter(pk=house.pk).update(length=FOOT * 40)
    assert "with too much" in signed_in.get("/houses/north-1/").content.decode()
    House.objects.filter(pk=house.pk).update(post_span=FOOT * 60)
    assert "pieces needed" not in signed_in.get("/houses/north-1/").content.decode()
