"""Batches that bend for houses as they once were."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator

from django.db.models import F, Q, QuerySet, Sum
from django.utils.translation import gettext

from farmbuild.common.compiled import compiled_once
from farmbuild.common.lengths import length_text
from farmbuild.common.reading import units_of
from farmbuild.common.speaking import said_count
from farmbuild.hoops.batches.models import BatchHouse, HoopBatch
from farmbuild.sites.bridge import hoop_count
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated

#: The house has another hoop, or its hoops stand over other posts, than the batch was started for.
_OTHER_HOOP = ~Q(house__recipe=F("batch__recipe")) | ~Q(house__post_span=F("batch__post_span"))


def outdated_batches(*, batches: Collection[int]) -> set[int]:
    """Keys of those that bend another hoop than a house of theirs now has; one query."""
    rows = BatchHouse.objects.filter(_OTHER_HOOP, batch__in=batches, house__archived_at=None)
    return set(rows.values_list("batch", flat=True))


def changes_of(*, batch: HoopBatch) -> list[str]:
    """What its houses now are and it is not, in sentences."""
    shares = list(BatchHouse.objects.filter(batch=batch, house__archived_at=None).select_related("house__recipe"))
    wanted = _hoops_wanted([share.house for share in shares])
    units = units_of(batch.organisation)
    return [words for share in shares for words in _differs(share.house, batch, wanted[share.house_id], units)]


def _differs(house: House, batch: HoopBatch, wanted: int, units: str) -> Iterator[str]:
    """``wanted``: hoops of all batches for the house."""
    if house.recipe_id != batch.recipe_id:
        yield gettext("%(house)s now has the hoop %(recipe)s.") % {"house": house.name, "recipe": house.recipe.name}
    if house.post_span != batch.post_span:
        yield gettext("The posts of %(house)s now stand %(post_span)s apart, not %(post_span_2)s.") % {
            "house": house.name,
            "post_span": length_text(house.post_span, units),
            "post_span_2": length_text(batch.post_span, units),
        }
    if wanted > hoop_count(house):
        yield gettext("%(house)s now has %(house_2)s, and batches make %(wanted)s.") % {
            "house": house.name,
            "house_2": said_count(hoop_count(house), "hoop"),
            "wanted": wanted,
        }


def _hoops_wanted(houses: Collection[House]) -> dict[int, int]:
    """By house, hoops of all its batches."""
    rows = BatchHouse.objects.filter(house__in=[house.pk for house in houses]).order_by()
    return defaultdict(int, rows.values_list("house").annotate(Sum("hoops")))


def outdated_by(*, house: House) -> list[Outdated]:
    if house.archived_at:
        return []
    shares, units = _shares_of(house.pk), house.organisation.unit_system
    wanted = sum(share.hoops for share in shares)
    return [
        Outdated(str(share.batch), share.batch.get_absolute_url(), gettext("see what differs before you bend"), 2)
        for share in shares
        if any(_differs(house, share.batch, wanted, units))
    ]


@compiled_once
def _shares_of(house: int) -> QuerySet[BatchHouse]:
    return BatchHouse.objects.filter(house_id=house).select_related("batch").order_by("batch__number")
