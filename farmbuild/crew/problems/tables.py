"""The list of problems."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import FarmTable
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.models import Actual
from farmbuild.crew.problems.words import photos_shown, who_of


class ProblemTable(FarmTable):
    """Rows of ``selectors.problems_of``; shown in the time zone in force."""

    phone = (("problem",), ("when", "work", "house"))

    problem = tables.Column(_("Problem"), orderable=False)
    photos = tables.Column(_("Photos"), orderable=False, default=_("none"))
    house = tables.Column(_("House"), accessor="task__house", orderable=False)
    work = tables.Column(_("Work"), accessor="task__get_kind_display", orderable=False)
    when = tables.Column(_("When"), orderable=False)
    who = tables.Column(_("Who"), empty_values=(), orderable=False)

    class Meta:
        model = Actual
        fields = ("problem", "photos", "house", "work", "when", "who")

    def row_link(self, record: Any) -> str:
        return reverse("crew:problem", args=[record.pk])

    def render_photos(self, record: Actual) -> Any:
        there = [shown for shown in photos_shown(record) if not shown.gone]
        return render_to_string("crew/problems/thumbnails.html", {"photos": there}) if there else gettext("none")

    def render_house(self, value: Any) -> str:
        return f"{value}, {value.site.name}"

    def render_when(self, value: Any) -> str:
        return day(value)

    def render_who(self, record: Actual) -> str:
        return who_of(record)
