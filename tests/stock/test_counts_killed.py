"""A process that posts counts is killed at random points: afterwards every count is posted whole or not at all."""

from __future__ import annotations

import pytest
from django.db.models import F

from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import CountEntry, CountFind, CountLine, CountPlace, Lot, Movement, StockCount
from tests.factories import LotFactory, MaterialFactory, OrganisationFactory, PlaceFactory
from tests.stock.killing import kill_again_and_again

pytestmark = pytest.mark.django_db(transaction=True)
LOTS = 60


def test_posted_whole_or_not_at_all():
    organisation = OrganisationFactory()
    place = PlaceFactory(organisation=organisation)
    material = MaterialFactory(organisation=organisation)
    LotFactory.create_batch(LOTS, material=material, place=place, on_hand=50)
    states: set[str] = set()

    def look(said: list[str]) -> None:
        states.add(_check(organisation, said))

    said = kill_again_and_again(
        "tests.stock.counting_worker",
        organisation.pk,
        place.pk,
        material.pk,
        after_each=look,
        seed=20270422,
    )
    assert len(said) > 1
    # Some kills came while a count was under way or being posted.
    assert "open" in states


def _check(organisation, said: list[str]) -> str:
    counts = StockCount.objects.of(organisation)
    posted = counts.filter(state="posted")
    assert {int(number) for number in said} <= set(posted.values_list("number", flat=True))
    assert list(differences(organisation=organisation)) == []
    assert not Lot.objects.of(organisation).filter(on_hand__lt=F("reserved")).exists()
    # A posted count: every line counted, its movement stored, and what was found is a lot.
    lines = CountLine.objects.filter(count__in=posted)
    assert not lines.filter(movement=None).exists()
    wrong = lines.exclude(movement__quantity=F("counted") - F("expected"))
    assert not wrong.exists()
    assert not CountFind.objects.filter(count__in=posted, lot=None).exists()
    # Any other: nothing of it is in the books.
    assert not CountLine.objects.exclude(count__in=posted).filter(movement__isnull=False).exists()
    assert not CountFind.objects.exclude(count__in=posted).filter(lot__isnull=False).exists()
    movements = Movement.objects.filter(lot__organisation=organisation, kind=Movement.Kind.COUNT)
    assert movements.count() == lines.count() + posted.count()
    # Entries are whole too: all lots of a count, or none.
    for count in counts:
        lots = count.lines.count()
        assert CountEntry.objects.filter(line__count=count).count() in (0, lots)
        assert count.lines.filter(counted__isnull=False).count() in (0, lots)
    held = CountPlace.objects.filter(count__organisation=organisation, open=True)
    assert set(held.values_list("count__state", flat=True)) <= {"open"}
    return "open" if held.exists() else "none"
