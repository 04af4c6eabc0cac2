"""Rows of paid time, within the transaction of whoever asks: the rate of the day, nobody at two things at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Q, Sum
from django.utils.timezone import localtime
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day, said_list
from farmbuild.costs.models import MAX_MINUTES, PaidTime
from farmbuild.costs.rates import PayRates, no_rate
from farmbuild.costs.time.worked import Piece
from farmbuild.crew.models import HourApproval, Kind, Person
from farmbuild.measure import line_total
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House


@dataclass(frozen=True)
class Worked:
    """What one person did at one house on one day, or for a job as a whole."""

    person: Person
    day: date
    house: House | None
    pieces: Sequence[Piece]
    step: str = ""
    what: str = ""
    job: Any = None
    approval: HourApproval | None = None


def amount_of(minutes: int, rate: Decimal, currency: str) -> Decimal:
    """Minutes at a price an hour, rounded half up to coins at the row."""
    return line_total(Decimal(minutes) * rate / 60, Decimal(1), currency)


def lock_people(people: Iterable[int]) -> None:
    """Nobody else stores time of theirs until the transaction ends."""
    list(Person.objects.filter(pk__in={*people}).order_by("pk").select_for_update(no_key=True).values("pk"))


def post(*, organisation: Organisation, user: User | None, worked: Sequence[Worked], rates: PayRates) -> list[PaidTime]:
    """The caller holds the currency. Raises ValidationError in words where a person has no rate, was at two things at
    once, or would have worked more than a day has."""
    lock_people(one.person.pk for one in worked)
    rows = [row for one in worked for row in _rows(organisation, user, one, rates)]
    _check_overlaps(rows)
    _check_days(rows)
    return PaidTime.objects.bulk_create(rows)


def _rows(organisation: Organisation, user: User | None, one: Worked, rates: PayRates) -> list[PaidTime]:
    rate = rates.of(one.person, one.day)
    if rate is None:
        raise ValidationError({"person": no_rate(gettext("an hour of %(person)s") % {"person": one.person}, one.day)})
    return [
        PaidTime(
            organisation=organisation,
            person=one.person,
            day=one.day,
            house=one.house,
            job=one.job,
            step=one.step,
            what=one.what,
            starts_at=piece.starts,
            ends_at=piece.ends,
            minutes=piece.minutes,
            after_hours=piece.after,
            approval=one.approval,
            rate=rate,
            amount=amount_of(piece.minutes, rate, organisation.currency),
            by=user,
        )
        for piece in one.pieces
    ]


def _check_overlaps(rows: Sequence[PaidTime]) -> None:
    timed = [row for row in rows if row.starts_at]
    if not timed:
        return
    near = Q(
        person__in={row.person_id for row in timed},
        starts_at__lt=max(row.ends_at for row in timed),
        ends_at__gt=min(row.starts_at for row in timed),
    )
    stored = PaidTime.objects.net().filter(near).select_related("house", "job")
    by_person: dict[int, list[PaidTime]] = defaultdict(list)
    for row in [*stored, *timed]:
        by_person[row.person_id].append(row)
    names = {row.person_id: row.person for row in timed}
    for person, some in by_person.items():
        some.sort(key=lambda row: row.starts_at)
        for one, other in pairwise(some):
            if other.starts_at < one.ends_at and not (one.pk and other.pk):
                raise ValidationError(
                    gettext(
                        "%(person)s would be at two things at once: %(one)s, and %(other)s. Correct one of them first."
                    )
                    % {"person": names[person], "one": told(one), "other": told(other)}
                )


def told(row: PaidTime) -> str:
    """Ground posts at North 1, 10:00 to 12:00 on 3 November 2026."""
    work = Kind(row.step).label if row.step else row.what
    clock = _clock(row)
    place = gettext("at %(house)s") % {"house": row.house} if row.house else gettext("for %(job)s") % {"job": row.job}
    return gettext("%(work)s %(place)s%(clock)s on %(day)s") % {
        "work": work,
        "place": place,
        "clock": clock,
        "day": said_day(row.day),
    }


def _clock(row: PaidTime) -> str:
    if not row.starts_at:
        return ""
    times = {"starts": f"{localtime(row.starts_at):%H:%M}", "ends": f"{localtime(row.ends_at):%H:%M}"}
    return gettext(", %(starts)s to %(ends)s") % times


def _check_days(rows: Sequence[PaidTime]) -> None:
    days = {(row.person_id, row.day) for row in rows}
    stored = PaidTime.objects.filter(person__in={one for one, _ in days}, day__in={day for _, day in days})
    sums: dict[tuple[int, date], int] = defaultdict(int)
    for person, day, minutes in stored.values_list("person", "day").annotate(sum=Sum("minutes")).order_by():
        sums[person, day] += minutes
    for row in rows:
        sums[row.person_id, row.day] += row.minutes
    over = {
        gettext("%(person)s on %(day)s") % {"person": row.person, "day": said_day(row.day)}
        for row in rows
        if sums[row.person_id, row.day] > MAX_MINUTES
    }
    if over:
        raise ValidationError(
            gettext("That makes more than 24 hours of %(days)s. Correct the hours first.")
            % {"days": said_list(sorted(over))}
        )
