"""Tables of hours."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.models import Actual


class RunTable(FarmTable):
    """Rows are ``presenters.Row``."""

    phone = (("work", "length"), ("clock", "who", "house"))

    work = tables.Column("Work")
    house = tables.Column("House")
    who = tables.Column("Who")
    clock = tables.Column("When")
    length = tables.Column("Hours")
    people = QuantityColumn(verbose_name="People")
    state = tables.Column("State")

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        name = "crew:hours-run" if isinstance(record.record, Actual) else "crew:hours-other"
        return reverse(name, args=[record.record.pk])

    def render_length(self, record: Any) -> str:
        return f"{record.length}, corrected" if record.corrected else record.length


class ToCorrectTable(FarmTable):
    """Rows are ``presenters.ToCorrect``."""

    phone = (("work", "words"), ("day", "who", "house"))
    phone_words = {"day": ""}

    work = tables.Column("Work", accessor="run__task__get_kind_display")
    house = tables.Column("House", accessor="run__task__house")
    who = tables.Column("Who", accessor="run__person", default="someone")
    day = DayColumn(verbose_name="Day", accessor="run__day")
    clock = tables.Column("Pressed")
    words = tables.Column("Suggested")

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("crew:hours-run", args=[record.run.pk])
