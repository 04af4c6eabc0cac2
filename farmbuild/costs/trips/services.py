"""Writes of trips: at the price of the day, shared to the coin, taken back and never edited."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.costs.equipment.services import CHANGED
from farmbuild.costs.models import Trip
from farmbuild.costs.rates import TripRates, check_past, no_rate
from farmbuild.costs.taking_back import BACK, check_reason, take_back_rows
from farmbuild.costs.trips.proposals import proposed_trips
from farmbuild.crew.models import Crew
from farmbuild.crew.people.services import check_owner
from farmbuild.measure import line_total, share_out
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House, Site


@needs(Act.PLAN)
@transaction.atomic
def charge_trips(
    *,
    organisation: Organisation,
    user: User,
    site: Site,
    day: date,
    times: int,
    house: House | None = None,
    job: Any = None,
) -> Trip:
    """``times`` there and back, for a house there, for a job as a whole or as a general expense. Raises
    ValidationError by field."""
    check_owner(organisation, {"site": site, "house": house, "job": job})
    if house and job:
        raise ValidationError({"job": gettext("Choose a house, or a job as a whole: one of the two.")})
    check_past(organisation, day)
    if house and house.site_id != site.pk:
        raise ValidationError(
            {
                "house": gettext("%(house)s does not stand at %(site)s. Choose one that does, or none.")
                % {"house": house, "site": site}
            }
        )
    lock_currency(organisation=organisation)
    rate = TripRates(organisation).of(site.pk, day)
    if rate is None:
        raise ValidationError({"site": no_rate(gettext("a trip to %(site)s") % {"site": site}, day)})
    [row] = _rows(organisation, user, site=site, day=day, times=times, houses=[house], rate=rate)
    row.job = job
    row.full_clean(exclude=["organisation", "by"], validate_constraints=False)
    row.save()
    return row


def _rows(
    organisation: Organisation,
    user: User,
    *,
    site: Site,
    day: date,
    times: int,
    houses: Sequence[House | None],
    rate: Decimal,
    crew: Crew | None = None,
) -> list[Trip]:
    whole = line_total(times, rate, organisation.currency)
    parts = share_out(whole, [Decimal(1)] * len(houses), organisation.currency)
    return [
        Trip(
            organisation=organisation,
            site=site,
            house=house,
            crew=crew,
            day=day,
            times=times,
            shared=len(houses),
            rate=rate,
            amount=part,
            by=user,
        )
        for house, part in zip(houses, parts, strict=True)
    ]


@needs(Act.PLAN)
@transaction.atomic
def charge_proposed(*, organisation: Organisation, user: User, seen: Sequence[str]) -> int:
    """The proposed trips that the page showed; says how many. Raises ValidationError where one is proposed no more."""
    lock_currency(organisation=organisation)
    now = {one.token: one for one in proposed_trips(organisation=organisation)}
    if not seen or not now.keys() >= {*seen}:
        raise ValidationError(CHANGED)
    wanted = [now[token] for token in dict.fromkeys(seen)]
    rows = [
        row
        for one in wanted
        for row in _rows(
            organisation,
            user,
            site=one.site,
            day=one.day,
            times=1,
            houses=one.houses,
            rate=one.rate,
            crew=one.crew,
        )
    ]
    Trip.objects.bulk_create(rows)
    return len(wanted)


@needs(Act.PLAN)
@transaction.atomic
def take_back_trip(*, organisation: Organisation, user: User, row: Trip, reason: str) -> list[Trip]:
    """With the other parts of a trip that houses share. Raises ValidationError by field."""
    reason = check_reason(reason, gettext("nobody went there that day"))
    together = {"pk": row.pk}
    if row.shared > 1:
        together = {"site": row.site_id, "crew": row.crew_id, "day": row.day, "shared": row.shared}
    rows = Trip.objects.of(organisation).net().filter(**together).order_by("pk")
    keys = [*rows.values_list("pk", flat=True)]
    list(Trip.objects.filter(pk__in=keys).order_by("pk").select_for_update().values("pk"))
    current = [*Trip.objects.of(organisation).net().filter(pk__in=keys)]
    if row.pk not in {one.pk for one in current}:
        raise ValidationError(BACK)
    return take_back_rows(rows=current, quantity="times", user=user, reason=reason)
