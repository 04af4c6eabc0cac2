"""Tables of templates, steps and the tasks of a house."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.models import WorkTemplate
from farmbuild.crew.steps.presenters import TaskRow, person_hours
from farmbuild.measure import format_count, format_minutes


class TemplateTable(FarmTable):
    name = tables.Column(gettext_lazy("Name"))
    step_count = QuantityColumn(verbose_name=gettext_lazy("Steps"))
    house_count = QuantityColumn(verbose_name=gettext_lazy("Houses"))

    class Meta:
        model = WorkTemplate
        fields = ("name", "step_count", "house_count")

    def row_link(self, record: Any) -> str:
        return reverse("crew:template", args=[record.slug])


class StepTable(FarmTable):
    phone = (("name", "people"), ("counted_in", "skill", "waits_for"))
    phone_words = {"waits_for": gettext_lazy("after")}

    name = tables.Column(gettext_lazy("Step"))
    counted_in = tables.Column(gettext_lazy("Counted in"))
    people = QuantityColumn(verbose_name=gettext_lazy("People"))
    skill = tables.Column(gettext_lazy("Skill"), default=gettext_lazy("anybody"), empty_values=("", None))
    waits_for = tables.Column(gettext_lazy("Waits for"), default=gettext_lazy("nothing"), empty_values=("", None))

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
    phone_words = {"minutes": "", "on_site": gettext_lazy("Materials")}

    name = tables.Column(gettext_lazy("Step"))
    count = tables.Column(gettext_lazy("How much"))
    people = QuantityColumn(verbose_name=gettext_lazy("People"))
    minutes = SpanColumn(
        verbose_name=gettext_lazy("Time on site"),
        accessor="planned_minutes",
        footer=lambda table: gettext_lazy("%(person_hours)s person-hours") % {"person_hours": person_hours(table.data)},
    )
    on_site = DayColumn(
        verbose_name=gettext_lazy("Materials on site"), default=gettext_lazy("now"), empty_values=(None,)
    )
    state = tables.Column(gettext_lazy("State"))

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return f"#{record.kind}"

    def render_count(self, record: TaskRow) -> str:
        return f"{format_count(record.count)} {record.unit}"
