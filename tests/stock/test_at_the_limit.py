"""What a lot, a loan and a place just hold, and one more or one day later."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.core.exceptions import ValidationError

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.orgs.clock import today_of
from farmbuild.stock import ledger, services
from farmbuild.stock.models import Repricing
from farmbuild.stock.reserving.services import give_to_first_house
from tests.factories import LotFactory, MaterialFactory, PlaceFactory, SiteFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def lot(organisation):
    return LotFactory(material=MaterialFactory(organisation=organisation), on_hand=20, unit_cost=Decimal("12.90"))


def test_a_loan_is_of_today_or_of_two_years(who, lot):
    today = today_of(organisation=who["organisation"])
    last = today + ledger.LONGEST_LOAN
    for day in (today, last):
        assert ledger.lend_pieces(**who, lot=lot, quantity=1, borrower="Ana", back_on=day).back_on == day
    for day in (today - DAY, last + DAY):
        with pytest.raises(ValidationError, match="Type a day from today"):
            ledger.lend_pieces(**who, lot=lot, quantity=1, borrower="Ana", back_on=day)


def test_a_lot_holds_so_many_and_no_more(who):
    almost = LotFactory(material__organisation=who["organisation"], on_hand=MAX_QUANTITY - 1)
    services.receive_more(**who, lot=almost, quantity=1)
    with pytest.raises(ValidationError, match="A lot holds at most"):
        services.receive_more(**who, lot=almost, quantity=1)


def test_a_place_keeps_its_own_name_and_takes_no_other_s(who):
    organisation = who["organisation"]
    rack, barn = (PlaceFactory(organisation=organisation, name=name) for name in ("Rack", "Barn"))
    site = SiteFactory(organisation=organisation)
    assert services.change_place(**who, place=rack, name="RACK", site=site).site == site
    with pytest.raises(ValidationError, match="There is a place named barn already"):
        services.change_place(**who, place=rack, name="barn", site=None)
    assert barn.name == "Barn"


def test_the_same_cost_is_no_repricing(who, lot):
    assert services.reprice_lot(**who, lot=lot, unit_cost=Decimal("12.9"), reason="") is None
    with pytest.raises(ValidationError, match="Say why it costs something else"):
        services.reprice_lot(**who, lot=lot, unit_cost=Decimal("12.91"), reason=" ")
    assert not Repricing.objects.exists()


def test_a_shared_stick_is_held_for_the_house_that_needs_it_first_whatever_it_is_called():
    kept = []
    pieces = [
        SimpleNamespace(house=SimpleNamespace(slug=slug, need_date=date(2027, 5, day)), purpose=f"posts of {slug}")
        for slug, day in (("ash", 9), ("birch", 3), ("cedar", 3))
    ]
    row = SimpleNamespace(
        pieces=SimpleNamespace(all=lambda: pieces), save=lambda *, update_fields: kept.extend(update_fields)
    )
    give_to_first_house(row)
    assert (row.house.slug, row.purpose, row.need_by) == ("birch", "posts of birch", date(2027, 5, 3))
    assert kept == ["house", "purpose", "need_by"]
