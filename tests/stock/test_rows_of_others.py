"""Another organisation's stock is out of reach of every service, and takes no name or number from ours."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.exceptions import ObjectDoesNotExist, ValidationError

from farmbuild.stock import cutting, ledger, services
from farmbuild.stock.counts import posting, selectors
from farmbuild.stock.counts import services as counts
from farmbuild.stock.counts.services import Counted
from farmbuild.stock.ledger_selectors import (
    differences,
    ledger_of,
    lot_history,
    movement_rows,
    open_loans,
    unequal_cuts,
)
from farmbuild.stock.models import CountFind, CountPlace, Lot, Movement, Place, StockCount
from farmbuild.stock.selectors import lots_of, lots_on_hand, places_of
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    PlaceFactory,
    SiteFactory,
    SupplierFactory,
)

pytestmark = pytest.mark.django_db
DAY = date(2027, 3, 1)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def stranger():
    member = MembershipFactory()
    return {"organisation": member.organisation, "user": member.user}


@pytest.fixture
def lot(organisation):
    return LotFactory(material=MaterialFactory(organisation=organisation), reference="RACK-1", on_hand=20)


def refused(work) -> None:
    with pytest.raises((ObjectDoesNotExist, ValidationError)):
        work()


def test_their_lot_is_not_moved_lent_cut_counted_taken_or_changed(who, stranger, lot):
    their_place = PlaceFactory(organisation=stranger["organisation"])
    loan = ledger.lend_pieces(**who, lot=lot, quantity=2, borrower="Ana Ruiz")
    before = (Movement.objects.count(), Lot.objects.count())
    for work in (
        lambda: ledger.move_pieces(**stranger, lot=lot, quantity=1, place=their_place),
        lambda: ledger.lend_pieces(**stranger, lot=lot, quantity=1, borrower="Ana Ruiz"),
        lambda: ledger.return_loan(**stranger, loan=loan, quantity=1),
        lambda: ledger.reverse(**stranger, movement=loan, reason="slip"),
        lambda: services.scrap(**stranger, lot=lot, quantity=1, reason="bent"),
        lambda: services.issue_pieces(**stranger, lot=lot, quantity=1, reason="barn"),
        lambda: services.return_pieces(**stranger, lot=lot, quantity=1, reason="barn"),
        lambda: services.adjust_by_count(**stranger, lot=lot, counted=3, seen=18, reason="counted"),
        lambda: services.change_lot(**stranger, lot=lot, data={"reference": "MINE"}),
        lambda: services.change_place(**stranger, place=lot.place, name="Mine", site=None),
        lambda: cutting.cut_sticks(**stranger, lot=lot, sticks=1, pieces=[FOOT]),
    ):
        refused(work)
    assert (Movement.objects.count(), Lot.objects.count()) == before
    lot.refresh_from_db()
    assert (lot.on_hand, lot.reference) == (18, "RACK-1")


def test_their_house_place_supplier_and_material_do_not_get_in(who, stranger, lot):
    theirs = stranger["organisation"]
    house = HouseFactory(site=SiteFactory(organisation=theirs))
    lot_of = {"quantity": 1, "received_on": DAY, "length": FOOT}
    for field, work in (
        ("house", lambda: services.issue_pieces(**who, lot=lot, quantity=1, reason="", house=house)),
        ("house", lambda: services.return_pieces(**who, lot=lot, quantity=1, reason="", house=house)),
        ("house", lambda: cutting.cut_sticks(**who, lot=lot, sticks=1, pieces=[FOOT], house=house)),
        ("place", lambda: ledger.move_pieces(**who, lot=lot, quantity=1, place=PlaceFactory(organisation=theirs))),
        ("site", lambda: services.place_named(**who, name="Shed", site=house.site)),
        ("site", lambda: services.change_place(**who, place=lot.place, name="Shed", site=house.site)),
        ("supplier", lambda: services.change_lot(**who, lot=lot, data={"supplier": SupplierFactory()})),
        ("material", lambda: services.receive_lot(**who, **lot_of, material=MaterialFactory(), place=lot.place)),
        ("place", lambda: services.receive_lot(**who, **lot_of, material=lot.material, place=PlaceFactory())),
    ):
        with pytest.raises(ValidationError) as told:
            work()
        assert told.value.message_dict == {field: ["Choose one from the list."]}


def test_their_names_and_references_are_free_for_us(who, stranger, lot):
    place = PlaceFactory(organisation=stranger["organisation"], name="Barn rack")
    assert services.place_named(**who, name="barn rack") != place
    assert services.change_place(**who, place=lot.place, name="Barn Rack 2", site=None).name == "Barn Rack 2"
    their = services.places_named(organisation=stranger["organisation"], names=["Rack 9"], site=None)["rack 9"]
    assert services.places_named(organisation=who["organisation"], names=["RACK 9"], site=None)["rack 9"] != their
    assert Place.objects.of(who["organisation"]).count() == 3
    LotFactory(material=MaterialFactory(organisation=stranger["organisation"]), reference="L-0001")
    made = services.receive_lot(**who, material=lot.material, quantity=1, place=lot.place, received_on=DAY, length=FOOT)
    assert made.reference == "L-0001"
    assert (
        services.change_lot(
            **stranger,
            lot=Lot.objects.get(reference="L-0001", material__organisation=stranger["organisation"]),
            data={"reference": "RACK-1"},
        ).reference
        == "RACK-1"
    )


def test_each_sees_its_own(who, stranger, lot):
    theirs = LotFactory(material=MaterialFactory(organisation=stranger["organisation"]), on_hand=5)
    loan = ledger.lend_pieces(**who, lot=lot, quantity=2, borrower="Ana Ruiz")
    for mine, other, found in ((who, stranger, lot), (stranger, who, theirs)):
        organisation = mine["organisation"]
        assert list(lots_of(organisation=organisation)) == list(lots_on_hand(organisation=organisation)) == [found]
        assert list(places_of(organisation=organisation)) == [found.place]
        assert {row.lot for row in ledger_of(organisation=organisation)} == {found}
        assert {row.lot for row in movement_rows(organisation=organisation)} == {found}
        assert not lot_history(organisation=other["organisation"], lot=found)
    assert list(open_loans(organisation=who["organisation"])) == [loan]
    assert not open_loans(organisation=stranger["organisation"])
    Lot.objects.filter(pk=lot.pk).update(on_hand=1)
    assert [row.lot for row in differences(organisation=who["organisation"])] == [lot]
    assert not list(differences(organisation=stranger["organisation"]))
    assert not list(unequal_cuts(organisation=stranger["organisation"]))


def test_their_count_is_theirs(who, stranger, lot):
    count = counts.start_count(**who, places=[lot.place])
    find = counts.record_find(**who, count=count, place=lot.place, material=lot.material, quantity=1, length=FOOT)
    for work in (
        lambda: counts.start_count(**stranger, places=[lot.place]),
        lambda: counts.record_counts(**stranger, count=count, counted=[Counted(lot.pk, 1)]),
        lambda: counts.cancel_find(**stranger, find=find),
        lambda: counts.request_recount(**stranger, count=count, lines=[]),
        lambda: counts.withdraw_recount(**stranger, count=count),
        lambda: counts.cancel_count(**stranger, count=count),
        lambda: posting.post_count(**stranger, count=count),
    ):
        refused(work)
    assert StockCount.objects.get().is_open and not CountFind.objects.get().taken_back
    theirs = LotFactory(material=MaterialFactory(organisation=stranger["organisation"]), unit_cost=99)
    other = counts.start_count(**stranger, places=[theirs.place])
    assert other.number == 1
    with pytest.raises(ValidationError, match="not there any more"):
        counts.record_counts(**who, count=count, counted=[Counted(theirs.pk, 1)])
    with pytest.raises(ValidationError, match="Choose one from the list"):
        counts.record_find(**who, count=count, place=lot.place, material=theirs.material, quantity=1, length=FOOT)
    assert list(selectors.counts_of(organisation=who["organisation"])) == [count]
    spare = PlaceFactory(organisation=who["organisation"])
    assert list(selectors.places_free_to_count(organisation=who["organisation"])) == [spare]
    assert CountPlace.objects.filter(open=True).count() == 2
