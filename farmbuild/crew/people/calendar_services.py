"""Writes of working hours, days off and journeys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.crew.bridge import Hours
from farmbuild.crew.models import DayOff, Person, Travel, WorkHours, WorkWeek
from farmbuild.crew.people.rules import NO_HOURS, hour_problems
from farmbuild.crew.people.services import check_name, check_owner, lock_organisation
from farmbuild.crew.people.words import days_words
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

#: The last day that anything may be planned for.
LATEST = date(2100, 12, 31)


@needs(Act.PLAN)
@transaction.atomic
def save_week(
    *, organisation: Organisation, user: User, name: str, hours: Sequence[Hours], week: WorkWeek | None = None
) -> WorkWeek:
    """Stores a new week, or ``week`` with these hours instead of its own. Raises ValidationError."""
    lock_organisation(organisation)
    rows = WorkWeek.objects.of(organisation)
    current = rows.get(pk=week.pk) if week else WorkWeek(organisation=organisation)
    check_name(rows, name, "week", but=week)
    if not hours:
        raise ValidationError(NO_HOURS)
    if problems := [words for _, _, words in hour_problems(hours)]:
        raise ValidationError(problems)
    current.name = name.strip()
    current.full_clean()
    current.save()
    current.hours.all().delete()
    for row in hours:
        stored = WorkHours(week=current, day=row.day, starts=row.starts, ends=row.ends)
        stored.full_clean()
        stored.save()
    return current


@needs(Act.PLAN)
@transaction.atomic
def remove_week(*, organisation: Organisation, user: User, week: WorkWeek) -> None:
    """Raises ValidationError where a crew, archived or not, works by it."""
    lock_organisation(organisation)
    current = WorkWeek.objects.of(organisation).get(pk=week.pk)
    if names := list(current.crews.order_by("name").values_list("name", flat=True)[:3]):
        raise ValidationError(
            gettext("Crews work by these hours: %(names)s. Give them other hours first.") % {"names": ", ".join(names)}
        )
    current.delete()


@needs(Act.PLAN)
@transaction.atomic
def add_days_off(
    *,
    organisation: Organisation,
    user: User,
    first: date,
    last: date | None = None,
    person: Person | None = None,
    reason: str = "",
) -> DayOff:
    """Whole days, both included; of everybody without ``person``. Raises ValidationError by field."""
    lock_organisation(organisation)
    check_owner(organisation, {"person": person})
    last = last or first
    if last < first:
        raise ValidationError(
            {
                "last": gettext("That is before %(days_words)s. Type the same day or a later one.")
                % {"days_words": days_words(first, first)}
            }
        )
    if last > LATEST:
        raise ValidationError({"last": gettext("That is too far off. Type a day before the year 2101.")})
    same = DayOff.objects.of(organisation).filter(person=person, first__lte=last, last__gte=first).first()
    if same:
        who = person.name if person else gettext("Everybody")
        raise ValidationError(
            {
                "first": gettext("%(who)s has %(days_words)s off already. Type other days, or remove those first.")
                % {"who": who, "days_words": days_words(same.first, same.last)}
            }
        )
    row = DayOff(organisation=organisation, person=person, first=first, last=last, reason=reason.strip())
    row.full_clean()
    row.save()
    return row


@needs(Act.PLAN)
@transaction.atomic
def remove_days_off(*, organisation: Organisation, user: User, day_off: DayOff) -> None:
    DayOff.objects.of(organisation).filter(pk=day_off.pk).delete()


@needs(Act.PLAN)
@transaction.atomic
def set_travel(*, organisation: Organisation, user: User, minutes: Mapping[tuple[Site, Site], int | None]) -> None:
    """Minutes between the two sites of each pair, whichever stands first; None: not listed any more."""
    lock_organisation(organisation)
    stored = {(row.one_id, row.other_id): row for row in Travel.objects.of(organisation)}
    for pair, wanted in minutes.items():
        check_owner(organisation, {"one": pair[0], "other": pair[1]})
        one, other = sorted(pair, key=lambda site: site.pk)
        row = stored.get((one.pk, other.pk))
        if wanted is None:
            if row:
                row.delete()
            continue
        row = row or Travel(organisation=organisation, one=one, other=other)
        if row.minutes != wanted:
            row.minutes = wanted
            row.full_clean()
            row.save()
