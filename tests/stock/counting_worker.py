"""Counts a place and posts it, over and over. Run by test_counts_killed.py: organisation, place, material."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import Organisation
from farmbuild.stock.counts import posting, services
from farmbuild.stock.models import CountPlace, Lot, Place, StockCount


def work(organisation_pk: int, place_pk: int, material_pk: int) -> Iterator[object]:
    organisation = Organisation.objects.get(pk=organisation_pk)
    place = Place.objects.get(pk=place_pk)
    material = Material.objects.get(pk=material_pk)
    given = {"organisation": organisation, "user": None}
    yield "ready"
    # The place of a count that was open when the last process was killed is free again once it is dropped.
    for held in CountPlace.objects.filter(place=place, open=True).select_related("count"):
        services.cancel_count(**given, count=held.count)
    while True:
        count = services.start_count(**given, places=[place])
        lots = Lot.objects.of(organisation).filter(place=place, on_hand__gt=0).values_list("pk", "on_hand")
        # One more in every other lot, one fewer in the rest: each lot differs.
        counted = [services.Counted(pk, pieces + (1 if at % 2 else -1)) for at, (pk, pieces) in enumerate(lots)]
        services.record_counts(**given, count=count, counted=counted)
        services.record_find(**given, count=count, place=place, material=material, length=Decimal(1000), quantity=50)
        posting.post_count(**given, count=count)
        assert StockCount.objects.get(pk=count.pk).state == "posted"
        # Said only once it is stored: what was said must be there after the kill.
        yield count.number
