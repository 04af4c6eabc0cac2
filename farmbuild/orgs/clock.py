"""The one clock of an organisation: the day and the time of day are those of its time zone, wherever they are shown.

A request of a signed-in user and a calendar at its secret address stand under that zone; there ``timezone.localtime``
and dates in templates are the organisation's. Nothing else asks for today. How it writes its numbers goes with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from zoneinfo import ZoneInfo

from django.utils import timezone

from farmbuild.measure import use_style
from farmbuild.orgs.models import Organisation
from farmbuild.orgs.numbers import style_of


def zone_of(*, organisation: Organisation) -> ZoneInfo:
    return ZoneInfo(organisation.time_zone)


def today_of(*, organisation: Organisation) -> date:
    return timezone.localdate(timezone=zone_of(organisation=organisation))


def today() -> date:
    """By the clock in force, for what a form begins with."""
    return timezone.localdate()


@contextmanager
def zone_in_force(organisation: Organisation) -> Iterator[None]:
    """Inside it moments are read and shown by the organisation's clocks, and numbers as it writes them."""
    with timezone.override(zone_of(organisation=organisation)), use_style(style_of(organisation=organisation)):
        yield
