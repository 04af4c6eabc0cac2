"""The first crew of those who have none: everybody, by usual hours that they may change."""

from __future__ import annotations

from datetime import time

from django.db import transaction

from farmbuild.crew.models import Crew, Person, WorkHours, WorkWeek
from farmbuild.crew.people.selectors import crews_of, people_of, weeks_of
from farmbuild.crew.people.services import create_crew, create_person, lock_organisation
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

NAME, WEEK = "Our crew", "Usual week"
#: Common practice, no source.
HOURS = ((time(8), time(12)), (time(13), time(17)))
WORKDAYS = tuple(WorkHours.Day)[:5]


@needs(Act.PLAN)
@transaction.atomic
def make_first_crew(*, organisation: Organisation, user: User) -> Crew:
    """All people in use, or whoever asks where there are none, in one crew; the crew that there is already stays."""
    lock_organisation(organisation)
    if there := crews_of(organisation=organisation).first():
        return there
    week = weeks_of(organisation=organisation).first() or _usual_week(organisation)
    crew = create_crew(organisation=organisation, user=user, data={"name": NAME, "week": week})
    if people_of(organisation=organisation).exists():
        # Who was in a crew that is archived moves too.
        Person.objects.filter(organisation=organisation, archived_at=None).update(crew=crew)
    else:
        create_person(
            organisation=organisation, user=user, data={"name": user.display_name, "crew": crew, "user": user}
        )
    return crew


def _usual_week(organisation: Organisation) -> WorkWeek:
    week = WorkWeek.objects.create(organisation=organisation, name=WEEK)
    WorkHours.objects.bulk_create(
        WorkHours(week=week, day=day, starts=starts, ends=ends) for day in WORKDAYS for starts, ends in HOURS
    )
    return week
