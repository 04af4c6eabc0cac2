"""Writes of paid time: from approved hours, typed, and taken back. No row is ever edited."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, gettext_lazy, ngettext

from farmbuild.costs.models import MAX_MINUTES, PaidTime
from farmbuild.costs.rates import PayRates, check_one_thing, check_past
from farmbuild.costs.taking_back import BACK, check_reason, take_back_rows
from farmbuild.costs.time.approved import approved_hours, not_in_money_of, ready
from farmbuild.costs.time.posting import Worked, post
from farmbuild.costs.time.worked import between, pieces
from farmbuild.crew.actuals.hours import crew_day
from farmbuild.crew.models import Actual, Crew, HourApproval, OtherWork, Person
from farmbuild.crew.people.services import check_owner
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House

CHANGED = gettext_lazy("These hours changed since the page was loaded. Look at them again.")


def put_approved(*, organisation: Organisation, user: User | None, approvals: Sequence[HourApproval]) -> list[PaidTime]:
    """Within the transaction that approves: all that can be in money; the rest waits for a rate or for names."""
    lock_currency(organisation=organisation)
    rates = PayRates(organisation)
    if not rates:
        return []
    can = ready(approved_hours(organisation=organisation, approvals=approvals), rates)
    worked = [row for one in can for row in one.worked(one.people)]
    return post(organisation=organisation, user=user, worked=worked, rates=rates) if worked else []


@needs(Act.PLAN)
@transaction.atomic
def put_waiting(*, organisation: Organisation, user: User) -> int:
    """All approved hours that wait and can be in money by now; says how many rows were made."""
    keys = [*not_in_money_of(organisation=organisation).values_list("pk", flat=True)]
    return len(put_approved(organisation=organisation, user=user, approvals=_locked(organisation, keys)))


def _locked(organisation: Organisation, keys: Iterable[int]) -> list[HourApproval]:
    """Those that still wait; what they are of is nobody else's to correct until the transaction ends."""
    rows = HourApproval.objects.of(organisation).filter(pk__in=[*keys])
    for model, name in ((Actual, "actual"), (OtherWork, "other")):
        held = model.objects.filter(pk__in=rows.values(name)).order_by("pk")
        list(held.select_for_update().values("pk"))
    return [*not_in_money_of(organisation=organisation).filter(pk__in=[*keys])]


@needs(Act.PLAN)
@transaction.atomic
def name_people(
    *, organisation: Organisation, user: User, approval: HourApproval, people: Sequence[Person]
) -> list[PaidTime]:
    """Who was at hours that are approved and wait. Raises ValidationError by field."""
    people = [*dict.fromkeys(people)]
    for person in people:
        check_owner(organisation, {"people": person})
    waiting = _locked(organisation, [approval.pk])
    if not waiting:
        raise ValidationError(CHANGED)
    [hours] = approved_hours(organisation=organisation, approvals=waiting)
    if len(people) != hours.hours.people:
        raise ValidationError(
            {
                "people": ngettext(
                    "%(count)s person worked. Choose as many, %(chosen)s are chosen.",
                    "%(count)s people worked. Choose as many, %(chosen)s are chosen.",
                    hours.hours.people,
                )
                % {"count": hours.hours.people, "chosen": len(people)}
            }
        )
    lock_currency(organisation=organisation)
    return post(organisation=organisation, user=user, worked=hours.worked(people), rates=PayRates(organisation))


@needs(Act.PLAN)
@transaction.atomic
def type_time(
    *,
    organisation: Organisation,
    user: User,
    person: Person,
    day: date,
    house: House | None = None,
    job: Any = None,
    step: str = "",
    what: str = "",
    minutes: int | None = None,
    starts: time | None = None,
    ends: time | None = None,
    next_day: bool = False,
) -> list[PaidTime]:
    """Time that nobody pressed: minutes, or from when to when by the clock on the wall, or both where breaks lie
    between. ``next_day``: it went past midnight, and is of ``day``, on which it began, as a run is that was pressed.
    Two rows where it goes past the end of the crew's day. Raises ValidationError by field."""
    check_owner(organisation, {"person": person, "house": house, "job": job})
    check_past(organisation, day)
    check_one_thing(house, job)
    what = " ".join(what.split())
    if not (step or what):
        raise ValidationError({"what": gettext("Choose a step, or say what was done.")})
    begun, ended = _moments(organisation, day, starts, ends, next_day=next_day)
    if begun and ended:
        span = between(begun, ended)
        minutes = span if minutes is None else minutes
        if minutes > span:
            raise ValidationError({"hours": gettext("These are more hours than lie between the two times.")})
    if minutes is None:
        raise ValidationError({"hours": gettext("Type the hours, or from when to when.")})
    if not 1 <= minutes <= MAX_MINUTES:
        raise ValidationError({"hours": gettext("Type hours of one day, up to 24.")})
    lock_currency(organisation=organisation)
    crew = Crew.objects.prefetch_related("week__hours").select_related("week").filter(pk=person.crew_id).first()
    of_day = crew_day(crew=crew, day=day, zone=zone_of(organisation=organisation))
    one = Worked(
        person=person,
        day=day,
        house=house,
        job=job,
        step=step,
        what=what,
        pieces=pieces(minutes=minutes, day=of_day, starts=begun, ends=ended),
    )
    return post(organisation=organisation, user=user, worked=[one], rates=PayRates(organisation))


def _moments(
    organisation: Organisation, day: date, starts: time | None, ends: time | None, *, next_day: bool
) -> tuple[datetime | None, datetime | None]:
    if starts is None and ends is None:
        if next_day:
            raise ValidationError({"ends": gettext("Type from when to when it was, where it went past midnight.")})
        return None, None
    if starts is None or ends is None:
        missing = "starts" if starts is None else "ends"
        raise ValidationError({missing: gettext("Type both times, or neither.")})
    if ends <= starts and not next_day:
        words = gettext("It ends before it starts. Where it went past midnight, tick that it ended on the next day.")
        raise ValidationError({"ends": words})
    last = day + timedelta(days=1) if next_day else day
    check_past(organisation, last)
    zone = zone_of(organisation=organisation)
    return datetime.combine(day, starts, zone), datetime.combine(last, ends, zone)


def take_back_approved(*, organisation: Organisation, user: User | None, reason: str, **which: Any) -> list[PaidTime]:
    """Within the transaction in which an approval ends: what it put into money goes out again."""
    about = {f"approval__{name}": row for name, row in which.items()}
    return _take_back(_counting(organisation, **about), user, reason)


def _take_back(rows: Sequence[PaidTime], user: User | None, reason: str) -> list[PaidTime]:
    return take_back_rows(rows=rows, quantity="minutes", user=user, reason=reason)


def _counting(organisation: Organisation, **which: Any) -> list[PaidTime]:
    """Rows that count, nobody else's until the transaction ends."""
    keys = PaidTime.objects.of(organisation).net().filter(**which).order_by("pk").values_list("pk", flat=True)
    list(PaidTime.objects.filter(pk__in=[*keys]).order_by("pk").select_for_update().values("pk"))
    return [*PaidTime.objects.of(organisation).net().filter(pk__in=[*keys])]


@needs(Act.PLAN)
@transaction.atomic
def take_back_time(*, organisation: Organisation, user: User, row: PaidTime, reason: str) -> list[PaidTime]:
    """A row that was typed; of approved hours all rows together, which then wait to be put into money again.

    Raises ValidationError by field.
    """
    reason = check_reason(reason, gettext("typed for the wrong house"))
    which = {"approval": row.approval_id} if row.approval_id else {"pk": row.pk}
    rows = _counting(organisation, **which)
    if row.pk not in {one.pk for one in rows}:
        raise ValidationError(BACK)
    return _take_back(rows, user, reason)
