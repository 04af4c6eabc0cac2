"""Lots through their services: the count is the sum of the movements, and never below zero."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum

from farmbuild.stock import services
from farmbuild.stock.models import Lot, Movement, Place
from tests.factories import (
    FOOT,
    LotFactory,
    MaterialFactory,
    OrganisationFactory,
    PlaceFactory,
    SiteFactory,
    SupplierFactory,
)

pytestmark = pytest.mark.django_db


def receive(organisation, user=None, **changes):
    given = {
        "material": None,
        "quantity": 12,
        "place": None,
        "received_on": date(2027, 3, 1),
        "length": FOOT * 10,
        "unit_cost": Decimal("12.5"),
    } | changes
    given["material"] = given["material"] or MaterialFactory(organisation=organisation)
    given["place"] = given["place"] or PlaceFactory(organisation=organisation)
    return services.receive_lot(organisation=organisation, user=user, **given)


def in_books(lot):
    lot.refresh_from_db()
    assert lot.on_hand == (lot.movements.aggregate(sum=Sum("quantity"))["sum"] or 0)
    return lot.on_hand


def test_receiving_makes_a_lot_with_one_movement(organisation, user):
    lot = receive(organisation, user, reason="delivery note 77")
    [movement] = lot.movements.all()
    assert (movement.kind, movement.quantity, movement.by, movement.reason) == ("receive", 12, user, "delivery note 77")
    assert in_books(lot) == 12


def test_references_are_numbered_on_and_step_over_typed_ones(organisation):
    receive(organisation, reference="L-0002")
    assert [receive(organisation).reference for _ in range(3)] == ["L-0001", "L-0003", "L-0004"]
    assert receive(OrganisationFactory()).reference == "L-0001"


def test_many_references_at_once_step_over_typed_ones(organisation):
    receive(organisation, reference="L-0700")
    with transaction.atomic():
        given = services.take_numbers(organisation=organisation, count=1200)
    assert len(set(given)) == 1200
    assert "L-0700" not in given
    assert given[-1] == "L-1201"


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"quantity": 0}, "quantity", "from 1 to"),
        ({"quantity": -3}, "quantity", "from 1 to"),
        ({"quantity": 10**12}, "quantity", "from 1 to"),
        ({"length": None}, "length", "comes by length"),
        ({"length": Decimal(0)}, "length", "longer than zero"),
        ({"length": Decimal(-1)}, "length", "longer than zero"),
        ({"unit_cost": Decimal("-0.01")}, "unit_cost", "greater than or equal to 0"),
    ],
)
def test_what_cannot_be_is_refused_whole(organisation, changes, field, words):
    with pytest.raises(ValidationError) as refused:
        receive(organisation, **changes)
    assert words in " ".join(refused.value.message_dict[field])
    assert not Lot.objects.exists()
    assert not Movement.objects.exists()


def test_counted_things_have_no_length(organisation):
    screw = MaterialFactory(organisation=organisation, kind="fastener", code="screw")
    with pytest.raises(ValidationError, match="counted, not measured"):
        receive(organisation, material=screw)
    assert receive(organisation, material=screw, length=None).length is None


def test_a_reference_is_given_once(organisation):
    receive(organisation, reference="RACK-1")
    with pytest.raises(ValidationError, match="RACK-1 already"):
        receive(organisation, reference="RACK-1")
    assert receive(OrganisationFactory(), reference="RACK-1").reference == "RACK-1"


@pytest.mark.parametrize("name", ["material", "place", "supplier"])
def test_rows_of_another_organisation_stay_out(organisation, name):
    other = OrganisationFactory()
    row = {"material": MaterialFactory, "place": PlaceFactory, "supplier": SupplierFactory}[name](organisation=other)
    with pytest.raises(ValidationError) as refused:
        receive(organisation, **{name: row})
    assert name in refused.value.message_dict


def test_scrap_never_goes_below_zero(organisation, user):
    lot = receive(organisation)
    services.scrap(organisation=organisation, user=user, lot=lot, quantity=5, reason="bent twice")
    assert in_books(lot) == 7
    with pytest.raises(ValidationError, match="7 pieces left, so 8 cannot be taken out"):
        services.scrap(organisation=organisation, user=user, lot=lot, quantity=8, reason="bent twice")
    assert in_books(lot) == 7
    with pytest.raises(ValidationError, match="Say why"):
        services.scrap(organisation=organisation, user=user, lot=lot, quantity=1, reason="  ")
    services.scrap(organisation=organisation, user=user, lot=lot, quantity=7, reason="rusted through")
    assert in_books(lot) == 0


def test_the_database_refuses_less_than_nothing(organisation):
    lot = receive(organisation)
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(on_hand=-1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Movement.objects.create(lot=lot, kind="count", quantity=0)


def test_count_sets_the_books_to_what_is_there(organisation, user):
    lot = receive(organisation)
    movement = services.adjust_by_count(
        organisation=organisation, user=user, lot=lot, counted=9, seen=12, reason="three are missing"
    )
    assert movement.quantity == -3
    assert in_books(lot) == 9
    right = services.adjust_by_count(organisation=organisation, user=user, lot=lot, counted=9, seen=9, reason="")
    assert right is None
    assert lot.movements.count() == 2


def test_count_made_before_another_movement_is_not_stored(organisation, user):
    lot = receive(organisation)
    services.scrap(organisation=organisation, user=user, lot=lot, quantity=2, reason="bent twice")
    with pytest.raises(ValidationError, match="went from 12 pieces to 10"):
        services.adjust_by_count(organisation=organisation, user=user, lot=lot, counted=11, seen=12, reason="one gone")
    assert in_books(lot) == 10


@pytest.mark.parametrize("counted", [-1, 10**12])
def test_count_out_of_reach_is_refused(organisation, user, counted):
    lot = receive(organisation)
    with pytest.raises(ValidationError, match="from 0 to"):
        services.adjust_by_count(organisation=organisation, user=user, lot=lot, counted=counted, seen=12, reason="x")


def test_details_are_put_right_but_not_what_the_pieces_are(organisation, user):
    lot, other = receive(organisation), PlaceFactory(organisation=organisation)
    lay = lot.place
    changed = services.change_lot(
        organisation=organisation,
        user=user,
        lot=lot,
        data={"place": other, "unit_cost": Decimal("9.99"), "length": FOOT, "on_hand": 99},
        reason="Invoice came",
    )
    lot.refresh_from_db()
    assert (lot.place, lot.unit_cost, lot.length, lot.on_hand) == (lay, Decimal("9.99"), FOOT * 10, 12)
    assert changed.pk == lot.pk
    receive(organisation, reference="RACK-9")
    with pytest.raises(ValidationError, match="RACK-9 already"):
        services.change_lot(organisation=organisation, user=user, lot=lot, data={"reference": "RACK-9"})


def test_a_place_is_found_by_name_whatever_the_capitals(organisation, user):
    north = SiteFactory(organisation=organisation, name="North Field")
    made = services.place_named(organisation=organisation, user=user, name="Barn rack", site=north)
    assert services.place_named(organisation=organisation, user=user, name=" barn  RACK ") == made
    with pytest.raises(ValidationError, match="is at North Field"):
        services.place_named(
            organisation=organisation, user=user, name="Barn rack", site=SiteFactory(organisation=organisation)
        )
    assert Place.objects.count() == 1


def test_lots_of_another_organisation_cannot_be_moved(user):
    theirs = LotFactory()
    own = user.memberships.get().organisation
    for act in (
        lambda: services.scrap(organisation=own, user=user, lot=theirs, quantity=1, reason="x"),
        lambda: services.adjust_by_count(organisation=own, user=user, lot=theirs, counted=1, seen=20, reason="x"),
        lambda: services.change_lot(organisation=own, user=user, lot=theirs, data={"unit_cost": Decimal(1)}),
    ):
        with pytest.raises(Lot.DoesNotExist):
            act()
    assert in_books(theirs) == 20
