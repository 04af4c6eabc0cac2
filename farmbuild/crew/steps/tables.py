"""Tables of templates, steps and the tasks of a house."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.models import WorkTemplate
from farmbuild.crew.steps.presenters import TaskRow, person_hours
from farmbuild.measure import format_count, format_minutes


class TemplateTable(FarmTable):
    name = tables.Column("Name")
    step_count = QuantityColumn(verbose_name="Steps")
    house_count = QuantityColumn(verbose_name="Houses")

    class Meta:
        model = WorkTemplate
        fields = ("name", "step_count", "house_count")

    def row_link(self, record: Any) -> str:
        return reverse("crew:template", args=[record.slug])


class StepTable(FarmTable):
    phone = (("name", "people"), ("counted_in", "skill", "waits_for"))
    phone_words = {"waits_for": "after"}

    name = tables.Column("Step")
    counted_in = tables.Column("Counted in")
    people = QuantityColumn(verbose_name="People")
    skill = tables.Column("Skill", default="anybody", empty_values=("", None))
    waits_for = tables.Column("Waits for", default="nothing", empty_values=("", None))

    class Meta:
        orderable = False


class SpanColumn(tables.Column):
    """Minutes as hours and minutes."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, attrs={"cell": {"class": "figure"}, "tf": {"class": "figure"}}, **kwargs)

    def render(self, value: int) -> str:
        return format_minutes(value)


class TaskTable(FarmTable):
    phone = (("name", "minutes"), ("count", "people", "state", "on_site"))
    phone_words = {"minutes": "", "on_site": "Materials"}

    name = tables.Column("Step")
    count = tables.Column("How much")
    people = QuantityColumn(verbose_name="People")
    minutes = SpanColumn(
        verbose_name="Time on site",
        accessor="planned_minutes",
        footer=lambda table: f"{person_hours(table.data)} person-hours",
    )
    on_site = DayColumn(verbose_name="Materials on site", default="now", empty_values=(None,))
    state = tables.Column("State")

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return f"#{record.kind}"

    def render_count(self, record: TaskRow) -> str:
        return f"{format_count(record.count)} {record.unit}"
