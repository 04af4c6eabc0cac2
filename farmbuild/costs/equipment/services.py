"""Writes of equipment days: charged once a house and day, at the price of that day; taken back, never edited."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said_day
from farmbuild.costs.equipment.proposals import proposed_days
from farmbuild.costs.models import Equipment, EquipmentDay
from farmbuild.costs.rates import EquipmentRates, check_one_thing, check_past, no_rate
from farmbuild.costs.taking_back import BACK, check_reason, take_back_rows
from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.services import check_owner
from farmbuild.measure import line_total
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House

CHANGED = gettext_lazy("Some of these were recorded or changed since the page was loaded. Look at them again.")


@dataclass(frozen=True)
class Used:
    """A thing at a house, or for a job as a whole, for a day."""

    equipment: Equipment
    day: date
    house: House | None = None
    job: Any = None
    booking: BenderBooking | None = None


@needs(Act.PLAN)
@transaction.atomic
def charge_day(
    *,
    organisation: Organisation,
    user: User,
    equipment: Equipment,
    day: date,
    house: House | None = None,
    job: Any = None,
) -> EquipmentDay:
    """Raises ValidationError by field."""
    check_owner(organisation, {"equipment": equipment, "house": house, "job": job})
    check_past(organisation, day)
    check_one_thing(house, job)
    [row] = _charge(organisation, user, [Used(equipment, day, house, job)])
    return row


@needs(Act.PLAN)
@transaction.atomic
def charge_proposed(*, organisation: Organisation, user: User, seen: Sequence[str]) -> int:
    """The proposed days that the page showed; says how many. Raises ValidationError where one is proposed no more."""
    lock_currency(organisation=organisation)
    now = {one.token: one for one in proposed_days(organisation=organisation)}
    if not seen or not now.keys() >= {*seen}:
        raise ValidationError(CHANGED)
    used = [Used(one.equipment, one.day, one.house, booking=one.booking) for one in map(now.get, dict.fromkeys(seen))]
    return len(_charge(organisation, user, used))


def _charge(organisation: Organisation, user: User, used: Sequence[Used]) -> list[EquipmentDay]:
    lock_currency(organisation=organisation)
    rates = EquipmentRates(organisation)
    stored = EquipmentDay.objects.of(organisation).net().filter(day__in={one.day for one in used})
    charged = set(stored.values_list("equipment", "house", "job", "day"))
    rows = []
    for one in used:
        rate = rates.of(one.equipment.pk, one.day)
        if rate is None:
            raise ValidationError(
                {"equipment": no_rate(gettext("a day of %(equipment)s") % {"equipment": one.equipment}, one.day)}
            )
        what = one.house or one.job
        if (one.equipment.pk, one.house and one.house.pk, one.job and one.job.pk, one.day) in charged:
            words = gettext("%(equipment)s is charged to %(what)s for %(day)s already.") % {
                "equipment": one.equipment,
                "what": what,
                "day": said_day(one.day),
            }
            raise ValidationError({"day": words})
        amount = line_total(1, rate, organisation.currency)
        rows.append(
            EquipmentDay(
                organisation=organisation,
                equipment=one.equipment,
                house=one.house,
                job=one.job,
                day=one.day,
                booking=one.booking,
                rate=rate,
                amount=amount,
                by=user,
            )
        )
    return EquipmentDay.objects.bulk_create(rows)


@needs(Act.PLAN)
@transaction.atomic
def take_back_day(*, organisation: Organisation, user: User, row: EquipmentDay, reason: str) -> EquipmentDay:
    """Raises ValidationError by field."""
    reason = check_reason(reason, gettext("it stood in the yard that day"))
    list(EquipmentDay.objects.of(organisation).filter(pk=row.pk).select_for_update().values("pk"))
    current = EquipmentDay.objects.of(organisation).net().filter(pk=row.pk).first()
    if current is None:
        raise ValidationError(BACK)
    [back] = take_back_rows(rows=[current], quantity="days", user=user, reason=reason)
    return back
