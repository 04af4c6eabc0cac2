"""Sentences and names of files."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count, said_list
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.projects.outcomes import State
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import project_template


def done_words(shown: Mapping[str, Any], filename: str) -> str:
    states = shown["states"]
    words = {State.NEW: gettext("new"), State.CHANGED: gettext("changed"), State.LEFT: gettext("left alone")}
    said = [
        f"{said_count(states[state.name.lower()], 'row')} {words[state]}"
        for state in (State.NEW, State.CHANGED, State.LEFT)
        if states[state.name.lower()]
    ]
    return gettext("%(file)s is read in: %(rows)s.") % {"file": filename, "rows": said_list(said)}


def file_name(organisation: Organisation, part: str) -> str:
    """Of letters that every system takes."""
    return "-".join(filter(None, ("project", organisation.slug, part))) + ".xlsx"


def template_of(organisation: Organisation) -> bytes:
    """Empty, in the units of the organisation, with its decimal sign."""
    sign = {sign: word for word, sign in layout.SIGN_WORDS.items()}[organisation.decimal_sign]
    return project_template(UnitSystem(organisation.unit_system), decimal_sign=sign)
