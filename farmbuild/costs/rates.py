"""Rates that hold from a day on: read for a day, and stored. What was charged before keeps the rate that it had."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day
from farmbuild.costs.models import Equipment, EquipmentRate, PayRate, RateSince, TripRate
from farmbuild.crew.models import Crew, Person
from farmbuild.crew.people.services import check_owner
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

#: (day, price), the latest first, by whose they are.
_Rates = Mapping[Any, list[tuple[date, Decimal]]]


def _at(rates: _Rates, whose: Any, day: date) -> Decimal | None:
    return next((price for since, price in rates.get(whose, ()) if since <= day), None)


class PayRates:
    """All pay rates of an organisation, read once."""

    def __init__(self, organisation: Organisation) -> None:
        rows = PayRate.objects.of(organisation).order_by("-since").values_list("person", "crew", "since", "an_hour")
        self._rates: _Rates = defaultdict(list)
        for person, crew, since, an_hour in rows:
            self._rates[person, crew].append((since, an_hour))

    def __bool__(self) -> bool:
        return bool(self._rates)

    def of(self, person: Person, day: date) -> Decimal | None:
        """Of the person, else of the crew that they are in, else of everybody; None where none holds yet."""
        whose = [(person.pk, None), (None, person.crew_id), (None, None)]
        found = (_at(self._rates, one, day) for one in whose)
        return next((price for price in found if price is not None), None)


class TripRates:
    """All prices of trips of an organisation, read once."""

    def __init__(self, organisation: Organisation) -> None:
        rows = TripRate.objects.of(organisation).order_by("-since").values_list("site", "since", "each")
        self._rates: _Rates = defaultdict(list)
        for site, since, each in rows:
            self._rates[site].append((since, each))
        self.begins = min((rates[-1][0] for rates in self._rates.values()), default=None)

    def of(self, site: int, day: date) -> Decimal | None:
        found = _at(self._rates, site, day)
        return _at(self._rates, None, day) if found is None else found


class EquipmentRates:
    """All prices a day of an organisation, read once."""

    def __init__(self, organisation: Organisation) -> None:
        rows = EquipmentRate.objects.of(organisation).order_by("-since").values_list("equipment", "since", "a_day")
        self._rates: _Rates = defaultdict(list)
        for equipment, since, a_day in rows:
            self._rates[equipment].append((since, a_day))
        self.begins = min((rates[-1][0] for rates in self._rates.values()), default=None)

    def of(self, equipment: int, day: date) -> Decimal | None:
        return _at(self._rates, equipment, day)


def _store(row: RateSince, **whose: Any) -> Any:
    """A rate of the same day and thing is replaced; what was charged by it stays."""
    found = type(row)._default_manager.of(row.organisation).order_by()
    row.pk = found.filter(since=row.since, **whose).values_list("pk", flat=True).first()
    row._state.adding = row.pk is None
    row.full_clean(exclude=["organisation"], validate_constraints=False)
    row.save()
    return row


@needs(Act.PLAN)
@transaction.atomic
def set_pay_rate(
    *,
    organisation: Organisation,
    user: User,
    since: date,
    an_hour: Decimal,
    person: Person | None = None,
    crew: Crew | None = None,
) -> PayRate:
    """Of a person, of a crew, or of everybody who has no other. Raises ValidationError by field."""
    check_owner(organisation, {"person": person, "crew": crew})
    if person and crew:
        raise ValidationError({"crew": gettext("A rate is of a person or of a crew. Choose one of the two.")})
    lock_currency(organisation=organisation)
    row = PayRate(organisation=organisation, person=person, crew=crew, since=since, an_hour=an_hour)
    return _store(row, person=person, crew=crew)


@needs(Act.PLAN)
@transaction.atomic
def set_equipment_rate(
    *,
    organisation: Organisation,
    user: User,
    since: date,
    a_day: Decimal,
    bender: Bender | None = None,
    name: str = "",
) -> EquipmentRate:
    """Of a bender, or of another thing by its name, in capitals or not. Raises ValidationError by field."""
    check_owner(organisation, {"bender": bender})
    name = " ".join(name.split())
    if bool(bender) == bool(name):
        raise ValidationError({"name": gettext("Choose a bender, or type what else it is, for example post driver.")})
    lock_currency(organisation=organisation)
    known = Equipment.objects.of(organisation)
    thing = known.filter(bender=bender).first() if bender else known.filter(name__iexact=name).first()
    if thing is None:
        thing = Equipment(organisation=organisation, bender=bender, name=name)
        thing.full_clean(exclude=["organisation"], validate_constraints=False)
        thing.save()
    row = EquipmentRate(organisation=organisation, equipment=thing, since=since, a_day=a_day)
    return _store(row, equipment=thing)


@needs(Act.PLAN)
@transaction.atomic
def set_trip_rate(
    *, organisation: Organisation, user: User, since: date, each: Decimal, site: Site | None = None
) -> TripRate:
    """To a site, or to every site that has no price of its own. Raises ValidationError by field."""
    check_owner(organisation, {"site": site})
    lock_currency(organisation=organisation)
    return _store(TripRate(organisation=organisation, site=site, since=since, each=each), site=site)


def check_past(organisation: Organisation, day: date) -> None:
    """What is charged has happened. Raises ValidationError at ``day``."""
    if day > today_of(organisation=organisation):
        raise ValidationError({"day": gettext("It is charged once it is done. Type today or an earlier day.")})


def check_one_thing(house: Any, job: Any) -> None:
    """Raises ValidationError at ``house`` unless it is there, or the job instead of it."""
    if (house is None) == (job is None):
        raise ValidationError({"house": gettext("Choose a house, or a job as a whole: one of the two.")})


def no_rate(what: Any, day: date) -> str:
    return gettext("There is no price for %(what)s on %(day)s. Set one first, from that day on.") % {
        "what": what,
        "day": said_day(day),
    }
