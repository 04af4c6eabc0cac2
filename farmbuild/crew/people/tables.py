"""Tables of people, crews, weeks, skills and days off."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, QuantityColumn
from farmbuild.crew.models import Crew, DayOff, Person, Skill, WorkWeek
from farmbuild.crew.people.words import week_minutes, week_words
from farmbuild.measure import format_minutes


class PersonTable(FarmTable):
    name = tables.Column(_("Person"))
    crew = tables.Column(_("Crew"), default=_("no crew"), order_by=("crew__name", "name"))
    skills = tables.Column(_("Skills"), orderable=False)

    class Meta:
        model = Person
        fields = ("name", "crew", "skills")

    def row_link(self, record: Any) -> str:
        return record.get_absolute_url()

    def render_crew(self, value: Crew) -> str:
        return gettext("%(value)s (archived)") % {"value": value} if value.archived_at else str(value)

    def render_skills(self, value: Any) -> str:
        return ", ".join(skill.name for skill in value.all()) or gettext("none")


class CrewTable(FarmTable):
    name = tables.Column(_("Crew"))
    head_count = QuantityColumn(verbose_name=_("People"))
    week = tables.Column(_("Working hours"), order_by=("week__name", "name"))

    class Meta:
        model = Crew
        fields = ("name", "head_count", "week")

    def row_link(self, record: Any) -> str:
        return record.get_absolute_url()


class WeekTable(FarmTable):
    phone = (("name", "total"), ("when",))

    name = tables.Column(_("Week"))
    when = tables.Column(_("Hours"), accessor="hours", orderable=False)
    total = tables.Column(_("A week"), accessor="hours", orderable=False)
    crew_count = QuantityColumn(verbose_name=_("Crews"))

    class Meta:
        model = WorkWeek
        fields = ("name", "when", "total", "crew_count")

    def row_link(self, record: Any) -> str:
        return reverse("crew:week", args=[record.pk])

    def render_when(self, value: Any) -> str:
        return week_words(value.all())

    def render_total(self, value: Any) -> str:
        return format_minutes(week_minutes(value.all()))


class SkillTable(FarmTable):
    name = tables.Column(_("Skill"))
    head_count = QuantityColumn(verbose_name=_("People who have it"))

    class Meta:
        model = Skill
        fields = ("name", "head_count")

    def row_link(self, record: Any) -> str:
        return reverse("crew:skill", args=[record.pk])


class DayOffTable(FarmTable):
    phone = (("who",), ("first", "last", "reason"))
    phone_words = {"first": _("From"), "last": _("to")}

    who = tables.Column(_("Who"), accessor="pk", order_by=("person__name", "first"))
    first = DayColumn(_("First day off"))
    last = DayColumn(_("Last day off"))
    reason = tables.Column(_("Reason"), default=_("not said"))

    class Meta:
        model = DayOff
        fields = ("who", "first", "last", "reason")

    def row_link(self, record: Any) -> str:
        return reverse("crew:day-off", args=[record.pk])

    def render_who(self, record: DayOff) -> str:
        return str(record.person) if record.person else gettext("Everybody")
