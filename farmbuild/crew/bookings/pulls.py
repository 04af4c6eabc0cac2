"""Pulls made on the days of bookings: typed where a bender comes back, and counted where batches record them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date, datetime
from typing import Any

from farmbuild.crew.models import BenderBooking
from farmbuild.hoops.batches.measured.pulls import Made, by_bender, made_on
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation


def pulls_of(*, bookings: Iterable[BenderBooking]) -> dict[int, int | None]:
    """By key of bookings of one organisation: what was typed at check-in; of own work, where nothing was typed, what
    batches recorded on the bender on its days. None: nobody said. At most six queries."""
    rows = list(bookings)
    found = {row.pk: row.pulls for row in rows}
    own = [row for row in rows if row.member_id is None and row.pulls is None and row.out_at]
    if own:
        organisation = own[0].organisation
        made = by_bender(made_on(organisation=organisation, benders={row.bender_id for row in own}))
        for row in own:
            first, last = _out(row, organisation)
            counted = [one for one in made[row.bender_id] if one.batch is not None and first <= one.day <= last]
            found[row.pk] = sum(one.pulls for one in counted)
    return found


def _out(row: BenderBooking, organisation: Organisation) -> tuple[date, date]:
    zone = zone_of(organisation=organisation)

    def on(at: datetime | None, else_on: date) -> date:
        return at.astimezone(zone).date() if at else else_on

    return on(row.out_at, row.first), on(row.back_at, max(row.last, row.first))


def tell_made_pulls(sender: Any, *, organisation: Organisation, benders: Collection[int], **more: Any) -> list[Made]:
    """What members told, on the day that the bender came back. Own work is in the batches."""
    rows = BenderBooking.objects.of(organisation).filter(
        bender__in=benders, pulls__gt=0, member__isnull=False, back_at__isnull=False
    )
    zone = zone_of(organisation=organisation)
    return [
        Made(bender, back_at, back_at.astimezone(zone).date(), pulls)
        for bender, back_at, pulls in rows.order_by("back_at", "pk").values_list("bender", "back_at", "pulls")
    ]
