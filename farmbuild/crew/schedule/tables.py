"""Tables of the work of a day, of schedules and of how far houses are."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bridge import cautions_of
from farmbuild.crew.models import Schedule
from farmbuild.crew.schedule.board import Line
from farmbuild.measure import format_minutes
from farmbuild.sites.models import House


class DayTable(FarmTable):
    """Rows are ``board.Line``."""

    phone = (("work", "clock"), ("crew", "state", "house"))

    work = tables.Column("Work", accessor="task__get_kind_display", orderable=False)
    house = tables.Column("House and site", accessor="task__house", orderable=False)
    clock = tables.Column("From and to", orderable=False, attrs={"td": {"class": "clock"}})
    crew = tables.Column("Crew", accessor="task__crew", orderable=False)
    state = tables.Column("How far", accessor="task__get_state_display", orderable=False)
    care = tables.Column("Cautions", accessor="task__kind", default="", orderable=False)

    def __init__(self, data: Sequence[Line], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if data:
            # The heading stands on each sheet that the day goes on to.
            at = data[0].day
            self.columns["work"].column.verbose_name = f"Work on {at:%a} {at.day} {at:%b}"

    def row_link(self, record: Any) -> str:
        return reverse("crew:task", args=[record.task.pk])

    def render_house(self, value: House) -> SafeString:
        return format_html("{} <small>{}</small>", value, value.site.name)

    def render_care(self, value: str) -> str:
        return "; ".join(caution.short for caution in cautions_of(value))

    def render_work(self, value: str, record: Line) -> SafeString:
        own = record.task.own_minutes
        more = format_html(" <small>{}, its own length</small>", format_minutes(own)) if own else ""
        return format_html("{}{}", value, more)


class ScheduleTable(FarmTable):
    phone = (("number", "state"), ("created_at", "published_at"))
    phone_words = {"number": "Schedule", "created_at": "Asked for", "published_at": "Published"}

    number = QuantityColumn(verbose_name="Schedule")
    created_at = tables.Column("Asked for")
    state = tables.Column("State")
    published_at = tables.Column("Published", default="no")

    class Meta:
        model = Schedule
        fields = ("number", "created_at", "state", "published_at")

    def row_link(self, record: Any) -> str:
        return reverse("crew:schedule", args=[record.number])

    def render_created_at(self, value: datetime) -> str:
        return day(value)

    def render_published_at(self, value: datetime) -> str:
        return day(value)


class MoveTable(FarmTable):
    """Rows are ``sheets.Move``."""

    phone = (("work",), ("by", "starts"))
    phone_words = {"starts": "to"}

    work = tables.Column("Task", accessor="task")
    was = tables.Column("Before")
    starts = tables.Column("Now")
    by = tables.Column("Moves", accessor="by")

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("crew:task", args=[record.task.pk])

    def render_was(self, value: datetime, record: Any) -> str:
        return f"{clock_words(value)}, {record.was_crew}"

    def render_starts(self, value: datetime, record: Any) -> str:
        return f"{clock_words(value)}, {record.crew}"


class HousePlanTable(FarmTable):
    """Rows are ``sheets.HousePlan``."""

    phone = (("house", "margin"), ("ends", "due"))
    phone_words = {"due": "to stand by"}

    house = tables.Column("House")
    begins = DayColumn(verbose_name="Work begins")
    ends = DayColumn(verbose_name="Done on")
    due = DayColumn(verbose_name="To stand by", default="no day")
    margin = tables.Column("Early or late", default="")
    phase = tables.Column("Its plan", default="No plan")

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return record.house.get_absolute_url()


def clock_words(moment: datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}, {moment:%H:%M}"


class HouseProgressTable(FarmTable):
    """Houses as ``selectors.progress_of`` gives them."""

    phone = (("name", "tasks_done"), ("hoops", "set_done", "sighted", "covered"))
    phone_words = {
        "tasks_done": "Tasks",
        "hoops": "Bent",
        "set_done": "Set",
        "sighted": "Sighted",
        "covered": "Covered",
    }

    name = tables.Column("House")
    hoops = tables.Column("Hoops bent", accessor="hoops_wanted", default="no batch yet", orderable=False)
    set_done = tables.Column("Hoops set", orderable=False)
    sighted = tables.Column("Sighted", orderable=False)
    covered = tables.Column("Covered", orderable=False)
    tasks_done = tables.Column("Tasks done", orderable=False)

    class Meta:
        model = House
        fields = ("name", "hoops", "set_done", "sighted", "covered", "tasks_done")

    def row_link(self, record: Any) -> str:
        return record.get_absolute_url()

    def render_hoops(self, record: Any) -> str:
        return f"{int(record.hoops_bent)} of {record.hoops_wanted}"

    def render_set_done(self, value: int) -> str:
        return "yes" if value else "no"

    render_sighted = render_covered = render_set_done

    def render_tasks_done(self, record: Any) -> str:
        return f"{record.tasks_done} of {record.task_count}"
