"""Addresses of last year lead to the pages of today, and what was typed goes along."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import Resolver404, resolve

from farmbuild.common.old_addresses import OLD, address_today

#: One of each kind, as a bookmark or an open form has it.
KEPT = {
    "/crew/templates-standard/": "/crew/steps-standard/",
    "/crew/templates/": "/crew/steps/",
    "/crew/templates/usual/edit/": "/crew/steps/usual/edit/",
    "/crew/benders/proposal/": "/crew/benders/who-gets-which/",
    "/borrowing/calendar/revoke/": "/borrowing/calendar/cancel/",
    "/crew/day/calendars/ann/revoke/": "/crew/day/calendars/ann/cancel/",
    "/crew/benders/members/dell/sign-ins/3/shut/": "/crew/benders/members/dell/sign-ins/3/close/",
    "/stock/counts/7/drop/": "/stock/counts/7/cancel/",
    "/stock/movements/9/put-back/": "/stock/movements/9/return/",
    "/stock/movements/9/give-back/": "/stock/movements/9/loan-return/",
    "/hoops/batches/2/give-back/": "/hoops/batches/2/return/",
    "/houses/north/held/put-back/": "/houses/north/held/return/",
    "/stock/season-end/left.xlsx": "/stock/season-end/leftovers.xlsx",
}


@pytest.mark.parametrize(("was", "now"), KEPT.items())
def test_an_old_address_leads_to_a_page_of_today(was: str, now: str) -> None:
    assert address_today(was) == now
    assert resolve(now) and address_today(now) is None
    if was.startswith("/borrowing/"):
        # All that began so leads on once more, to the cooperative of whoever asks.
        assert resolve(was).view_name == "crew:own-page-before"
        return
    with pytest.raises(Resolver404):
        resolve(was)


def test_each_old_address_is_tried() -> None:
    for pattern, _ in OLD:
        assert any(pattern.match(was) for was in KEPT), pattern


@pytest.mark.django_db
def test_the_query_and_the_form_go_along(signed_in: Client) -> None:
    answer = signed_in.get("/crew/templates/?page=2")
    assert (answer.status_code, answer["Location"]) == (308, "/crew/steps/?page=2")
    answer = signed_in.post("/crew/templates-standard/", follow=True)
    assert answer.redirect_chain[0] == ("/crew/steps-standard/", 308) and answer.status_code == 200
    assert "Steps" in answer.content.decode()


@pytest.mark.django_db
def test_below_a_prefix(client: Client) -> None:
    answer = client.get("/crew/benders/proposal/", SCRIPT_NAME="/growers")
    assert answer["Location"] == "/growers/crew/benders/who-gets-which/"


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["a%3Fb", "a%23b", "100%25", "%C3%A9"])
def test_signs_of_an_address_stay_what_they_were(client: Client, name: str) -> None:
    answer = client.get(f"/crew/templates/{name}/edit/?page=2")
    assert (answer.status_code, answer["Location"]) == (308, f"/crew/steps/{name}/edit/?page=2")
