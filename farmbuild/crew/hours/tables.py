"""Tables of hours."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.models import Actual


class RunTable(FarmTable):
    """Rows are ``presenters.Row``."""

    phone = (("work", "length"), ("clock", "who", "house"))

    work = tables.Column(gettext_lazy("Work"))
    house = tables.Column(gettext_lazy("House"))
    who = tables.Column(gettext_lazy("Who"))
    clock = tables.Column(gettext_lazy("When"))
    length = tables.Column(gettext_lazy("Hours"))
    people = QuantityColumn(verbose_name=gettext_lazy("People"))
    state = tables.Column(gettext_lazy("State"))

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        name = "crew:hours-run" if isinstance(record.record, Actual) else "crew:hours-other"
        return reverse(name, args=[record.record.pk])

    def render_length(self, record: Any) -> str:
        return gettext("%(length)s, corrected") % {"length": record.length} if record.corrected else record.length


class ToCorrectTable(FarmTable):
    """Rows are ``presenters.ToCorrect``."""

    phone = (("work", "words"), ("day", "who", "house"))
    phone_words = {"day": ""}

    work = tables.Column(gettext_lazy("Work"), accessor="run__task__get_kind_display")
    house = tables.Column(gettext_lazy("House"), accessor="run__task__house")
    who = tables.Column(gettext_lazy("Who"), accessor="run__person", default=gettext_lazy("someone"))
    day = DayColumn(verbose_name=gettext_lazy("Day"), accessor="run__day")
    clock = tables.Column(gettext_lazy("Pressed"))
    words = tables.Column(gettext_lazy("Suggested"))

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("crew:hours-run", args=[record.run.pk])
