"""Reads of people, crews, hours, days off and journeys."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet

from farmbuild.common.compiled import compiled_once
from farmbuild.crew.bridge import Days, Hours, Resource, crew_resource, slots_of
from farmbuild.crew.models import Crew, CrewSettings, DayOff, Person, Skill, Travel, WorkHours, WorkWeek
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.sites.selectors import sites_of

HERE = Q(people__archived_at=None)


def settings_of(*, organisation: Organisation) -> CrewSettings:
    """What is stored, or what holds until something is."""
    found = CrewSettings.objects.filter(organisation=organisation).first()
    return found or CrewSettings(organisation=organisation)


def people_of(*, organisation: Organisation) -> QuerySet[Person]:
    """People who are not archived, with crew and skills."""
    return any_person_of(organisation=organisation).filter(archived_at=None)


def person_of(*, organisation: Organisation, user: User) -> Person | None:
    """Who the user is among the people of the organisation."""
    return next(iter(_person_of(organisation.pk, user.pk)), None)


@compiled_once
def _person_of(organisation: int, user: int) -> QuerySet[Person]:
    rows = Person.objects.filter(organisation_id=organisation, user_id=user, archived_at=None)
    return rows.select_related("crew__week", "user").prefetch_related("skills").order_by("name", "pk")[:1]


def people_in(*, crew: Crew) -> QuerySet[Person]:
    return people_of(organisation=crew.organisation).filter(crew=crew)


def people_by_crew(*, organisation: Organisation) -> QuerySet[Person]:
    """Those in a crew, crew by crew."""
    return people_of(organisation=organisation).filter(crew__isnull=False).order_by("crew__name", "name")


def people_without_work(*, organisation: Organisation) -> QuerySet[Person]:
    """In no crew, or in one that is archived."""
    return people_of(organisation=organisation).exclude(crew__archived_at=None, crew__isnull=False)


def any_person_of(*, organisation: Organisation) -> QuerySet[Person]:
    return Person.objects.of(organisation).select_related("crew__week", "user").prefetch_related("skills")


def sign_ins_for(*, organisation: Organisation, person: Person | None = None) -> QuerySet[User]:
    """Users of the organisation who are nobody yet, or ``person``."""
    others = Person.objects.of(organisation).filter(user=OuterRef("pk")).exclude(pk=person and person.pk)
    return User.objects.filter(~Exists(others), memberships__organisation=organisation, is_active=True).order_by(
        "username"
    )


def crews_of(*, organisation: Organisation) -> QuerySet[Crew]:
    """Crews that are not archived, with their week and ``head_count``."""
    return any_crew_of(organisation=organisation).filter(archived_at=None)


def any_crew_of(*, organisation: Organisation) -> QuerySet[Crew]:
    rows = Crew.objects.of(organisation).select_related("week")
    return rows.annotate(head_count=Count("people", HERE)).order_by("name", "pk")


def skills_of(*, organisation: Organisation) -> QuerySet[Skill]:
    """With ``head_count``: people who have it."""
    return Skill.objects.of(organisation).annotate(head_count=Count("people", HERE)).order_by("name", "pk")


def hours_of(*, week: WorkWeek) -> list[WorkHours]:
    """Rising."""
    return list(week.hours.order_by("day", "starts"))


def weeks_of(*, organisation: Organisation) -> QuerySet[WorkWeek]:
    """With their hours, rising, and ``crew_count``."""
    hours = Prefetch("hours", WorkHours.objects.order_by("day", "starts"))
    rows = WorkWeek.objects.of(organisation).prefetch_related(hours)
    return rows.annotate(crew_count=Count("crews")).order_by("name", "pk")


def days_off_of(*, organisation: Organisation) -> QuerySet[DayOff]:
    return DayOff.objects.of(organisation).select_related("person")


def coming_days_off_of(
    *, organisation: Organisation, past: bool = False, person: Person | None = None
) -> QuerySet[DayOff]:
    """Those that are not over by the organisation's calendar; with ``past`` those that are, the latest first.

    With ``person`` that person's own alone.
    """
    today = today_of(organisation=organisation)
    rows = days_off_of(organisation=organisation)
    rows = rows.filter(person=person) if person else rows
    return rows.filter(last__lt=today).order_by("-first", "-pk") if past else rows.filter(last__gte=today)


def crew_resources(*, organisation: Organisation, start: datetime, days: int) -> tuple[Resource, ...]:
    """Every crew that is not archived as "crew-<pk>", with how many of its people are there and when.

    ``start``: aware and on a quarter of an hour; ``days``: of the organisation's calendar, the first being that of
    ``start``. A crew without people is there with no windows.
    """
    zone = organisation.time_zone
    hours = {
        week.pk: [Hours(row.day, row.starts, row.ends) for row in week.hours.all()]
        for week in weeks_of(organisation=organisation)
    }
    first = start.astimezone(zone_of(organisation=organisation)).date()
    off: dict[int | None, list[Days]] = defaultdict(list)
    near = DayOff.objects.of(organisation).filter(last__gte=first, first__lte=first + timedelta(days=days))
    for person, *stretch in near.values_list("person", "first", "last"):
        off[person].append(tuple(stretch))
    people: dict[int, list[int]] = defaultdict(list)
    for person, crew in Person.objects.of(organisation).filter(archived_at=None).values_list("pk", "crew"):
        people[crew].append(person)
    return tuple(
        crew_resource(
            ref=crew_ref(crew),
            hours=hours[crew.week_id],
            people=[off[person] for person in people[crew.pk]],
            closed=off[None],
            zone=zone,
            start=start,
            days=days,
        )
        for crew in Crew.objects.of(organisation).filter(archived_at=None).order_by("pk")
    )


def crew_ref(crew: Crew) -> str:
    """What a plan of work calls the crew."""
    return f"crew-{crew.pk}"


def travel_of(*, organisation: Organisation) -> dict[tuple[str, str], int]:
    """Slots on the road between two sites, by their slugs; listed one way, the same both ways."""
    rows = Travel.objects.of(organisation).values_list("one__slug", "other__slug", "minutes")
    return {(one, other): slots_of(minutes) for one, other, minutes in rows}


def travel_else(*, organisation: Organisation) -> int:
    """Slots between two sites that are not listed."""
    return slots_of(settings_of(organisation=organisation).travel_minutes)


def travel_rows_of(*, organisation: Organisation, site: Site | None = None) -> QuerySet[Travel]:
    """With ``site`` those from it and to it."""
    rows = Travel.objects.of(organisation).select_related("one", "other")
    return rows.filter(Q(one=site) | Q(other=site)) if site else rows


def travel_sites_of(*, organisation: Organisation, but: Site | None = None) -> QuerySet[Site]:
    """By name; with ``but`` all others."""
    rows = sites_of(organisation=organisation).order_by("name", "pk")
    return rows.exclude(pk=but.pk) if but else rows
