"""A run of channel is counted by its length, on the needs page of a plan as on the page of what a house holds."""

from __future__ import annotations

from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from farmbuild.catalogue.models import Offer
from farmbuild.plans import coverage, services
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.coverage import From
from farmbuild.plans.models import Plan
from farmbuild.stock.models import Lot
from farmbuild.stock.services import issue_pieces
from tests.factories import FOOT, LotFactory, MaterialFactory, OfferFactory, PlaceFactory
from tests.plans.test_outdated import text_of


@pytest.fixture
def channel(season):
    """Two runs of 48 ft along North 1; five lengths of 12 ft in the yard, more to buy."""
    channel = MaterialFactory(organisation=season.organisation, code="channel", name="Fixing channel", kind="channel")
    film = MaterialFactory(organisation=season.organisation, code="film", name="Film", kind="film", width=FOOT * 32)
    house = season.houses[0]
    house.channel_material, house.channel_runs, house.channel_on_ends = channel, 2, False
    house.film_material, house.film_layers = film, 1
    house.film_side_allowance, house.film_end_allowance = FOOT * 2, FOOT
    house.save()
    place = PlaceFactory(organisation=season.organisation, name="Channel rack")
    LotFactory(material=channel, place=place, reference="C-1", length=FOOT * 12, on_hand=5)
    OfferFactory(supplier__organisation=season.organisation, material=channel, length=FOOT * 12, price="13")
    OfferFactory(supplier__organisation=season.organisation, material=film, length=FOOT * 100, price="200")
    return channel


def plain(text):
    return unescape(text).replace("\xa0", " ")


def planned(season, user) -> Plan:
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    plan.refresh_from_db()
    assert plan.state == Plan.State.READY, plan.problem
    return plan


def need_of(plan):
    return next(need for need in coverage.needs_of(*plan.snapshot()) if need.material.code == "channel")


def test_the_run_is_covered_by_its_length(season, user, channel, signed_in):
    plan = planned(season, user)
    need = need_of(plan)
    # By hand: 2 x 48 ft = 96 ft = 5 lengths of 12 ft in the yard and 3 to buy.
    assert need.total_length == FOOT * 96
    assert {origin: need.amount(origin) / FOOT for origin in From} == {
        From.HOUSE: 0, From.YARD: 60, From.BOUGHT: 36, From.NOWHERE: 0,
    }  # fmt: skip
    assert need.pieces == 8
    page = text_of(signed_in.get(reverse("plans:house-needs", args=[plan.number, "north-1"])))
    assert "2 (96' in all)" in plain(page)
    assert "5 × 12'" in plain(page) and "3 × 12'" in plain(page)
    [total] = [row for row in coverage.totals_of(coverage.needs_of(*plan.snapshot())) if row.run]
    assert (total.quantity, total.from_yard, total.to_buy) == (FOOT * 96, FOOT * 60, FOOT * 36)
    page = text_of(signed_in.get(reverse("plans:needs", args=[plan.number])))
    assert "butted to runs" in page and "96'" in plain(page)


def test_what_is_in_the_house_agrees_with_what_it_holds(season, user, channel):
    lot = Lot.objects.get(reference="C-1")
    house = season.houses[0]
    issue_pieces(organisation=season.organisation, user=user, lot=lot, quantity=5, reason="set", house=house)
    plan = accept_plan(organisation=season.organisation, user=user, plan=planned(season, user))
    need = need_of(plan)
    balance = balances(organisation=season.organisation, houses=[house])[house.pk]
    row = next(row for row in balance.rows if row.material.code == "channel")
    assert row.run and row.needed == need.total_length == FOOT * 96
    assert row.in_house == need.amount(From.HOUSE) == FOOT * 60
    assert row.held + row.on_order == need.amount(From.YARD, From.BOUGHT) == FOOT * 36
    assert row.to_find == need.amount(From.NOWHERE) == 0


def test_all_rows_of_a_plan_add_up(season, user, channel):
    plan = planned(season, user)
    for need in coverage.needs_of(*plan.snapshot()):
        assert need.amount(*From) == (need.total_length or Decimal(need.row.quantity)), need.row.purpose
    figures = coverage.figures_of(coverage.needs_of(*plan.snapshot()))
    assert figures.quantity == figures.in_house + figures.from_yard + figures.to_buy + figures.missing


def test_channel_that_nobody_sells_is_said_by_its_length(season, user, channel):
    Offer.objects.filter(material=channel).delete()
    need = need_of(planned(season, user))
    assert need.amount(From.YARD) + need.amount(From.NOWHERE) == FOOT * 96
    assert need.amount(From.BOUGHT) == 0
