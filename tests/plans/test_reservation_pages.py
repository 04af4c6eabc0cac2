"""Pages of accepting, releasing, swapping and who holds what."""

from __future__ import annotations

import re

import pytest
from django.db import OperationalError
from django.db.models import F, Q
from django.urls import reverse
from django.utils.html import strip_tags

from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.reserving.selectors import reservations_of
from farmbuild.stock.services import scrap
from tests.factories import MembershipFactory
from tests.plans.test_accepting import held, plan_of


def text_of(answer) -> str:
    return " ".join(strip_tags(re.sub(r"(?s)<(script|style|svg).*?</\1>", "", answer.content.decode())).split())


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


@pytest.fixture
def swapping(season, user):
    for house in season.houses:
        plan = plan_of(season, user, houses=[house])
        accept_plan(organisation=season.organisation, user=user, plan=plan)
    rows = reservations_of(organisation=season.organisation)
    return (
        rows.get(house=season.houses[1], order_line__material__code="rail", order_line__order__plan=F("plan")),
        rows.get(house=season.houses[0], lot__reference="L-1"),
    )


def test_a_plan_is_accepted_and_released_on_its_page(signed_in, ready):
    page = f"/plans/{ready.number}/"
    assert "Accept this plan" in text_of(signed_in.get(page))
    said = text_of(signed_in.post(f"{page}accept/", follow=True))
    assert f"Plan {ready.number} is accepted" in said and "Accepted on" in said
    assert "Out of date" not in said
    asked = text_of(signed_in.get(f"{page}release/"))
    assert re.search(r"In the yard: [\w, ]*sticks", asked)
    assert held() > 0
    said = text_of(signed_in.post(f"{page}release/", follow=True))
    assert "Released on" in said and "Accept this plan" in said
    assert held() == 0


def test_what_is_missing_is_listed_row_by_row(signed_in, ready, user):
    lot = Lot.objects.get(reference="L-1")
    scrap(organisation=ready.organisation, user=user, lot=lot, quantity=15, reason="rust")
    answer = signed_in.post(f"/plans/{ready.number}/accept/")
    said = text_of(answer)
    assert answer.status_code == 409
    assert "Nothing is held" in said and "15 of 20" in said and "Plan again with what is free" in said
    assert held() == 0


def test_who_holds_is_named_when_a_plan_is_refused(signed_in, season, user):
    one = plan_of(season, user, houses=season.houses[:1])
    two = plan_of(season, user, houses=season.houses[1:])
    accept_plan(organisation=season.organisation, user=user, plan=one)
    said = text_of(signed_in.post(f"/plans/{two.number}/accept/"))
    assert f"for North 1 (plan {one.number})" in said


def test_the_lot_says_who_holds_it(signed_in, accepted):
    lot = Lot.objects.get(reference="L-1")
    said = text_of(signed_in.get(reverse("stock:lot", args=[lot.pk])))
    assert "0 free, 20 held for houses" in said and "Who holds it" in said and "North 1" in said
    said = text_of(signed_in.get(reverse("stock:lots")))
    assert "Free" in said


def test_the_list_narrows_by_material_house_plan_and_place(signed_in, accepted):
    rows = Reservation.objects
    url = reverse("stock:held")
    for query, expected in [
        ("", rows.count()),
        ("?material=rail", rows.filter(Q(lot__material__code="rail") | Q(order_line__material__code="rail")).count()),
        ("?house=creek-1", rows.filter(house__slug="creek-1").count()),
        ("?where=yard", rows.filter(lot__isnull=False).count()),
        ("?where=coming", rows.filter(lot__isnull=True).count()),
        (f"?plan={accepted.number}", rows.count()),
        ("?plan=99", 0),
        ("?material=nothing", rows.count()),
    ]:  # fmt: skip
        assert signed_in.get(url + query).context["count"] == expected, query


def test_a_house_shows_and_releases_what_it_holds(signed_in, accepted):
    assert "/houses/north-1/held/" in signed_in.get("/houses/north-1/").content.decode()
    said = text_of(signed_in.get("/houses/north-1/held/"))
    assert "North 1 holds what is below, needed by 12 May 2027" in said
    assert "Release what North 1 holds" in text_of(signed_in.get("/houses/north-1/held/release/"))
    said = text_of(signed_in.post("/houses/north-1/held/release/", follow=True))
    assert "North 1 holds nothing any more" in said and "in no accepted plan" in said
    assert held(house__slug="creek-1") > 0
    said = text_of(signed_in.post("/houses/north-1/held/release/", follow=True))
    assert "so it holds nothing" in said


def test_one_hold_is_let_go(signed_in, accepted):
    row = Reservation.objects.filter(lot__reference="L-1", quantity__gt=2).first()
    url = reverse("stock:held-release", args=[row.pk])
    assert "Any house can then take these pieces." in text_of(signed_in.get(url))
    too_many = signed_in.post(url, {"quantity": row.quantity + 1})
    assert "held here now" in too_many.context["form"].errors["quantity"][0]
    signed_in.post(url, {"quantity": 2})
    assert Reservation.objects.get(pk=row.pk).quantity == row.quantity - 2


def test_held_sticks_are_cut_as_planned(signed_in, accepted):
    row = Reservation.objects.get(lot__reference="L-2")
    page = text_of(signed_in.get(reverse("stock:held-one", args=[row.pk])))
    assert "Cut them as planned" in page and "Cut out of each stick" in page
    url = reverse("stock:held-cut", args=[row.pk])
    assert signed_in.get(url).context["drawing"]
    said = text_of(signed_in.post(url, {"sticks": "1"}, follow=True))
    assert "the houses hold their pieces" in said
    # A hold of whole sticks is not cut.
    other = Reservation.objects.filter(lot__reference="L-1").first()
    refused = signed_in.get(reverse("stock:held-cut", args=[other.pk]), follow=True)
    assert "These sticks are not cut" in text_of(refused)


def test_an_issue_from_a_hold_is_filled_in(signed_in, accepted):
    row = Reservation.objects.filter(lot__reference="L-1").first()
    url = reverse("stock:lot-issue", args=[row.lot_id])
    form = signed_in.get(f"{url}?house={row.house_id}&quantity={row.quantity}").context["form"]
    assert form["quantity"].value() == str(row.quantity) and form["house"].value() == str(row.house_id)
    refused = signed_in.post(url, {"quantity": 1, "reason": "gate"})
    assert "None of them is free" in refused.context["form"].errors["quantity"][0]


def test_a_swap_shows_both_sides_and_then_posts(signed_in, swapping):
    waiting, yard = swapping
    page = signed_in.get(reverse("stock:held-one", args=[waiting.pk]))
    url = reverse("stock:swap", args=[waiting.pk, yard.pk])
    assert url in page.content.decode()
    answer = signed_in.get(url, {"quantity": 5})
    said = text_of(answer)
    assert "Creek 1 takes 5 sticks of 1-3/8 rail" in said
    assert "North 1 will then be 8 days late" in said
    assert "North 1 is short of 5 sticks of 1-3/8 rail from 12 May 2027 on" in said
    assert "Invented Pipe" in said
    assert held(house=waiting.house, lot=yard.lot) == 0
    seen = answer.context["effect"].seen
    said = text_of(signed_in.post(url, {"quantity": 5, "seen": seen, "swap": "yes"}, follow=True))
    assert "are held for Creek 1 now" in said
    assert held(house=waiting.house, lot=yard.lot) == 5
    stale = signed_in.post(url, {"quantity": 5, "seen": seen, "swap": "yes"})
    assert "nothing was swapped" in text_of(stale)


@pytest.mark.parametrize(
    "name", ["stock:held-one", "stock:held-release", "stock:held-cut", "stock:swap", "plans:accept", "plans:release"]
)
def test_nothing_for_another_organisation(client, swapping, name):
    waiting, yard = swapping
    args = {"stock:swap": [waiting.pk, yard.pk]}.get(name, [waiting.pk])
    args = [Plan.objects.first().number] if name.startswith("plans:") else args
    client.force_login(MembershipFactory().user)
    before = sorted(Reservation.objects.values_list("pk", "quantity"))
    methods = {"plans:accept": [client.post], "stock:held-one": [client.get]}
    for method in methods.get(name, [client.get, client.post]):
        assert method(reverse(name, args=args)).status_code == 404
    assert client.get(reverse("stock:held")).context["count"] == 0
    assert client.get("/houses/north-1/held/").status_code == 404
    assert client.post("/houses/north-1/held/release/").status_code == 404
    assert sorted(Reservation.objects.values_list("pk", "quantity")) == before


def test_a_database_that_gave_another_the_way_is_said(signed_in, ready, monkeypatch):
    def busy(**given):
        # The code of a lock that did not come in time: PostgreSQL manual, appendix A.
        cause = RuntimeError("canceling statement due to lock timeout")
        cause.sqlstate = "55P03"
        raise OperationalError(str(cause)) from cause

    monkeypatch.setattr("farmbuild.plans.accepting.accept_plan", busy)
    answer = signed_in.post(f"/plans/{ready.number}/accept/")
    assert answer.status_code == 503
    assert "Nothing was done" in text_of(answer)
