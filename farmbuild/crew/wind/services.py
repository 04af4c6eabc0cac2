"""Writes of wind limits and forecasts: one transaction a user action."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.models import WindForecast, WindLimit
from farmbuild.crew.people.services import check_owner, lock_organisation
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

#: Days from today on that a forecast is taken for; the page lists as many.
DAYS_AHEAD = 14


def last_day(today: date) -> date:
    """The last of the days ahead; today is the first."""
    return today + timedelta(days=DAYS_AHEAD - 1)


@needs(Act.PLAN)
@transaction.atomic
def set_limits(
    *, organisation: Organisation, user: User, unit: str, limits: Mapping[str, Mapping[str, Any] | None]
) -> None:
    """By work ("film", "ladder"): ``speed`` in ``unit``, ``measure``, ``source``; None: no limit is set any more.

    Raises ValidationError by ``<work>_<field>``.
    """
    lock_organisation(organisation)
    stored = {row.work: row for row in WindLimit.objects.of(organisation)}
    for work, wanted in limits.items():
        row = stored.get(work)
        if wanted is None:
            if row:
                row.delete()
            continue
        row = row or WindLimit(organisation=organisation, work=work)
        row.speed, row.measure, row.source = wanted["speed"], wanted["measure"], wanted["source"].strip()
        row.unit, row.set_by = unit, user
        try:
            row.full_clean()
        except ValidationError as error:
            raise ValidationError({f"{work}_{name}": words for name, words in error.message_dict.items()}) from error
        row.save()


@needs(Act.RECORD)
@transaction.atomic
def enter_forecast(
    *,
    organisation: Organisation,
    user: User,
    site: Site,
    day: date,
    wind: Decimal,
    unit: str,
    source: str,
    gust: Decimal | None = None,
) -> WindForecast:
    """Kept beside earlier ones of that site and day; the last one holds. Raises ValidationError by field."""
    check_owner(organisation, {"site": site})
    now = timezone.now()
    today = now.astimezone(zone_of(organisation=organisation)).date()
    wrong = {}
    if not today <= day <= last_day(today):
        wrong["day"] = gettext("Type a day from today on, at most %(days_ahead)s days ahead.") % {
            "days_ahead": DAYS_AHEAD - 1
        }
    if gust is not None and gust < wind:
        wrong["gust"] = gettext("Gusts are never below the mean wind. Type the higher of the two as the gust.")
    if wrong:
        raise ValidationError(wrong)
    row = WindForecast(organisation=organisation, site=site, day=day, wind=wind, gust=gust, unit=unit)
    row.source, row.entered_by, row.entered_at = source.strip(), user, now
    row.full_clean()
    row.save()
    return row
