"""The calendar of a person as other programs read it: the tasks of the person's crew."""

from __future__ import annotations

from datetime import UTC, timedelta

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext
from icalendar import Calendar

from farmbuild.crew.feeds import new_calendar, new_event
from farmbuild.crew.models import CalendarFeed, Task
from farmbuild.crew.schedule.selectors import schedules_of, tasks_of
from farmbuild.crew.wind.selectors import notes_of, typed_at
from farmbuild.measure import format_minutes, one_line

#: Older tasks are left out, so that the calendar stays short.
PAST = timedelta(days=30)


def person_calendar(feed: CalendarFeed) -> Calendar:
    """An event a task, DTSTART and DTEND in UTC (RFC 5545, 3.3.5); empty for who is in no crew or archived."""
    person, organisation = feed.person, feed.organisation
    calendar = new_calendar(str(person))
    if person.crew_id is None or person.archived_at:
        return calendar
    stamp = schedules_of(organisation=organisation).aggregate(last=Max("published_at"))["last"] or feed.made_at
    stamp = max(stamp, typed_at(organisation=organisation) or stamp)
    rows = list(tasks_of(organisation=organisation).filter(crew=person.crew_id, ends_at__gt=timezone.now() - PAST))
    wind = notes_of(organisation=organisation, tasks=rows)
    for task in rows:
        event = new_event(uid=f"task-{task.pk}", stamp=stamp, summary=_summary(task))
        event.add("dtstart", task.starts_at.astimezone(UTC))
        event.add("dtend", task.ends_at.astimezone(UTC))
        event.add("location", one_line(task.house.site.name))
        told = (
            [
                gettext("Takes %(own_minutes)s on site, its own length.")
                % {"own_minutes": format_minutes(task.own_minutes)}
            ]
            if task.own_minutes
            else []
        )
        if told := [*told, *(gettext("Wind. %(note)s") % {"note": note.words} for note in wind.get(task.pk, ()))]:
            event.add("description", "\n".join(told))
        calendar.add_component(event)
    return calendar


def _summary(task: Task) -> str:
    named = f"{task.get_kind_display()}, {task.house}"
    return gettext("%(task)s (done)") % {"task": named} if task.state == Task.State.DONE else named
