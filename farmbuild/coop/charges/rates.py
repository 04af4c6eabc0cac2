"""Prices for members, each from a day on: read for a booking, and stored. What was charged keeps its price."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet

from farmbuild.coop.charges.bridge import Since
from farmbuild.coop.models import ChargeRate, FreeDays
from farmbuild.crew.people.services import check_owner
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User

Kind = ChargeRate.Kind


class ChargeRates:
    """All prices of an organisation, read once."""

    def __init__(self, organisation: Organisation) -> None:
        rows = ChargeRate.objects.of(organisation).order_by("since").values_list("kind", "bender", "since", "each")
        self._rates: dict[tuple[str, int | None], list[Since]] = defaultdict(list)
        for kind, bender, since, each in rows:
            self._rates[kind, bender].append(Since(since, each))
        self.begins = min((rates[0].since for rates in self._rates.values()), default=None)

    def of(self, kind: Kind, bender: int) -> list[Since]:
        """Of every bender until the bender has its own first one, and its own from that day on."""
        own, all_of_them = self._rates[kind, bender], self._rates[kind, None]
        if not own:
            return all_of_them
        return [one for one in all_of_them if one.since < own[0].since] + own


def charge_rates_of(*, organisation: Organisation) -> QuerySet[ChargeRate]:
    """By kind and bender, those of every bender first; the latest first."""
    rows = ChargeRate.objects.of(organisation).select_related("bender")
    return rows.order_by("kind", "bender__name", "-since")


def has_prices(*, organisation: Organisation) -> bool:
    return ChargeRate.objects.of(organisation).exists()


def free_days_of(*, organisation: Organisation) -> QuerySet[FreeDays]:
    return FreeDays.objects.of(organisation).order_by("-since")


@needs(Act.PLAN)
@transaction.atomic
def set_charge_rate(
    *,
    organisation: Organisation,
    user: User,
    kind: str,
    since: date,
    each: Decimal,
    bender: Bender | None = None,
) -> ChargeRate:
    """Of a bender, or of every one that has none of its own; one of the same day is replaced.

    Raises ValidationError by field.
    """
    check_owner(organisation, {"bender": bender})
    lock_currency(organisation=organisation)
    same = ChargeRate.objects.of(organisation).filter(kind=kind, bender=bender, since=since).first()
    row = same or ChargeRate(organisation=organisation, kind=kind, bender=bender, since=since)
    row.each = each
    row.full_clean(exclude=["organisation"], validate_constraints=False)
    row.save()
    return row


@needs(Act.PLAN)
@transaction.atomic
def set_free_days(*, organisation: Organisation, user: User, since: date, days: int) -> FreeDays:
    """Days a share and season from ``since`` on; 0: none any more. Raises ValidationError."""
    lock_currency(organisation=organisation)
    same = FreeDays.objects.of(organisation).filter(since=since).first()
    row = same or FreeDays(organisation=organisation, since=since)
    row.days = days
    row.full_clean(exclude=["organisation"], validate_constraints=False)
    row.save()
    return row
