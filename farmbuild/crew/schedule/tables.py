"""Tables of the work of a day, of schedules and of how far houses are."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said_short_day
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

    work = tables.Column(gettext_lazy("Work"), accessor="task__get_kind_display", orderable=False)
    house = tables.Column(gettext_lazy("House and site"), accessor="task__house", orderable=False)
    clock = tables.Column(gettext_lazy("From and to"), orderable=False, attrs={"td": {"class": "clock"}})
    crew = tables.Column(gettext_lazy("Crew"), accessor="task__crew", orderable=False)
    state = tables.Column(gettext_lazy("How far"), accessor="task__get_state_display", orderable=False)
    care = tables.Column(gettext_lazy("Cautions"), accessor="task__kind", default="", orderable=False)

    def __init__(self, data: Sequence[Line], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if data:
            # The heading stands on each sheet that the day goes on to.
            at = data[0].day
            self.columns["work"].column.verbose_name = gettext("Work on %(day)s") % {"day": said_short_day(at)}

    def row_link(self, record: Any) -> str:
        return reverse("crew:task", args=[record.task.pk])

    def render_house(self, value: House) -> SafeString:
        return format_html("{} <small>{}</small>", value, value.site.name)

    def render_care(self, value: str) -> str:
        return "; ".join(caution.short for caution in cautions_of(value))

    def render_work(self, value: str, record: Line) -> SafeString:
        own = record.task.own_minutes
        more = (
            format_html(" <small>{}</small>", gettext("%(time)s, its own length") % {"time": format_minutes(own)})
            if own
            else ""
        )
        return format_html("{}{}", value, more)


class ScheduleTable(FarmTable):
    phone = (("number", "state"), ("created_at", "published_at"))
    phone_words = {
        "number": gettext_lazy("Schedule"),
        "created_at": gettext_lazy("Asked for"),
        "published_at": gettext_lazy("Published"),
    }

    number = QuantityColumn(verbose_name=gettext_lazy("Schedule"))
    created_at = tables.Column(gettext_lazy("Asked for"))
    state = tables.Column(gettext_lazy("State"))
    published_at = tables.Column(gettext_lazy("Published"), default=gettext_lazy("no"))

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
    phone_words = {"starts": gettext_lazy("to")}

    work = tables.Column(gettext_lazy("Task"), accessor="task")
    was = tables.Column(gettext_lazy("Before"))
    starts = tables.Column(gettext_lazy("Now"))
    by = tables.Column(gettext_lazy("Moves"), accessor="by")

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
    phone_words = {"due": gettext_lazy("to stand by")}

    house = tables.Column(gettext_lazy("House"))
    begins = DayColumn(verbose_name=gettext_lazy("Work begins"))
    ends = DayColumn(verbose_name=gettext_lazy("Done on"))
    due = DayColumn(verbose_name=gettext_lazy("To stand by"), default=gettext_lazy("no day"))
    margin = tables.Column(gettext_lazy("Early or late"), default="")
    phase = tables.Column(gettext_lazy("Its plan"), default=gettext_lazy("No plan"))

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return record.house.get_absolute_url()


def clock_words(moment: datetime) -> str:
    return f"{said_short_day(moment)}, {moment:%H:%M}"


class HouseProgressTable(FarmTable):
    """Houses as ``selectors.progress_of`` gives them."""

    phone = (("name", "tasks_done"), ("hoops", "set_done", "sighted", "covered"))
    phone_words = {
        "tasks_done": gettext_lazy("Tasks"),
        "hoops": gettext_lazy("Bent"),
        "set_done": gettext_lazy("Set"),
        "sighted": gettext_lazy("Sighted"),
        "covered": gettext_lazy("Covered"),
    }

    name = tables.Column(gettext_lazy("House"))
    hoops = tables.Column(
        gettext_lazy("Hoops bent"), accessor="hoops_wanted", default=gettext_lazy("no batch yet"), orderable=False
    )
    set_done = tables.Column(gettext_lazy("Hoops set"), orderable=False)
    sighted = tables.Column(gettext_lazy("Sighted"), orderable=False)
    covered = tables.Column(gettext_lazy("Covered"), orderable=False)
    tasks_done = tables.Column(gettext_lazy("Tasks done"), orderable=False)

    class Meta:
        model = House
        fields = ("name", "hoops", "set_done", "sighted", "covered", "tasks_done")

    def row_link(self, record: Any) -> str:
        return record.get_absolute_url()

    def render_hoops(self, record: Any) -> str:
        return gettext("%(hoops_bent)s of %(hoops_wanted)s") % {
            "hoops_bent": int(record.hoops_bent),
            "hoops_wanted": record.hoops_wanted,
        }

    def render_set_done(self, value: int) -> str:
        return gettext("yes") if value else gettext("no")

    render_sighted = render_covered = render_set_done

    def render_tasks_done(self, record: Any) -> str:
        return gettext("%(tasks_done)s of %(task_count)s") % {
            "tasks_done": record.tasks_done,
            "task_count": record.task_count,
        }
