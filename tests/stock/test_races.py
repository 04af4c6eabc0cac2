"""Eight people at one lot at once, each with a connection of their own. Runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Sum

from farmbuild.stock import importing, services
from farmbuild.stock.models import Lot, LotNumbers
from tests.factories import FOOT, LotFactory, MaterialFactory, MembershipFactory, PlaceFactory

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8


def at_once(work):
    """Results of ``work(number)`` in THREADS threads; what they raise is raised here."""

    def alone(number):
        try:
            return work(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


def test_one_lot_hammered_stays_whole():
    member = MembershipFactory()
    lot = LotFactory(material=MaterialFactory(organisation=member.organisation), on_hand=60)
    given = {"organisation": member.organisation, "user": member.user, "lot": lot}

    def work(number):
        chance = random.Random(number)
        scrapped = refused = counted = 0
        for _ in range(25):
            if chance.random() < 0.8:
                quantity = chance.randint(1, 3)
                try:
                    services.scrap(**given, quantity=quantity, reason="race")
                    scrapped += quantity
                except ValidationError as error:
                    assert "cannot be taken out" in str(error)
                    refused += 1
            else:
                seen = Lot.objects.values_list("on_hand", flat=True).get(pk=lot.pk)
                try:
                    movement = services.adjust_by_count(**given, counted=seen + 2, seen=seen, reason="race")
                    counted += movement.quantity
                except ValidationError as error:
                    assert "While this page was open" in str(error)
        return scrapped, refused, counted

    results = at_once(work)
    lot.refresh_from_db()
    scrapped, refused, counted = (sum(column) for column in zip(*results, strict=True))
    assert lot.on_hand == 60 - scrapped + counted
    assert lot.on_hand == lot.movements.aggregate(sum=Sum("quantity"))["sum"]
    # At no time below zero: the running sum in the order of storing, which the lock of the row makes.
    running = 0
    for quantity in lot.movements.order_by("pk").values_list("quantity", flat=True):
        running += quantity
        assert running >= 0
    assert refused > 0


def test_the_last_stick_goes_to_one():
    member = MembershipFactory()
    lot = LotFactory(material=MaterialFactory(organisation=member.organisation), on_hand=1)

    def work(number):
        try:
            services.scrap(organisation=member.organisation, user=member.user, lot=lot, quantity=1, reason="race")
        except ValidationError:
            return 0
        return 1

    assert sum(at_once(work)) == 1
    lot.refresh_from_db()
    assert lot.on_hand == 0


def test_references_do_not_repeat():
    member = MembershipFactory()
    material = MaterialFactory(organisation=member.organisation)
    place = PlaceFactory(organisation=member.organisation)

    def work(number):
        return [
            services.receive_lot(
                organisation=member.organisation,
                user=member.user,
                material=material,
                quantity=1,
                place=place,
                received_on=date(2027, 3, 1),
                length=FOOT * 10,
            ).reference
            for _ in range(6)
        ]

    given = sorted(reference for references in at_once(work) for reference in references)
    assert given == [f"L-{number:04d}" for number in range(1, THREADS * 6 + 1)]
    assert LotNumbers.objects.get().last == THREADS * 6


def test_one_new_place_for_eight_who_type_it():
    member = MembershipFactory()
    made = at_once(
        lambda number: services.place_named(organisation=member.organisation, user=member.user, name="Barn rack").pk
    )
    assert len(set(made)) == 1


def test_a_file_confirmed_eight_times_is_stored_once():
    member = MembershipFactory()
    MaterialFactory(organisation=member.organisation, code="rail-1-3-8")
    text = "Material,Length,Quantity,Place\n" + "rail-1-3-8,10',4,Rack\n" * 30
    draft = importing.make_draft(
        organisation=member.organisation,
        user=member.user,
        data=text.encode(),
        filename="lots.csv",
        today=date(2027, 3, 1),
    )

    def work(number):
        try:
            return importing.store_draft(organisation=member.organisation, user=member.user, draft=draft)
        except importing.ImportStale:
            return 0

    assert sorted(at_once(work)) == [0] * (THREADS - 1) + [30]
    assert Lot.objects.count() == 30
