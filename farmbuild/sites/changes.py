"""What to show when two people saved the same house: what changed since, and a form that loses nothing typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from farmbuild.sites.forms import HouseForm
from farmbuild.sites.models import House


@dataclass(frozen=True)
class Change:
    """One field that the other person changed. ``both``: the reader changed it too, to something else."""

    label: str
    opened: str
    stored: str
    typed: str
    both: bool


@dataclass(frozen=True)
class Clash:
    """``changes`` is empty when the other save changed nothing that the form shows."""

    house: House
    who: str
    changes: tuple[Change, ...]


def _as_posted(form: HouseForm, name: str, house: House) -> Any:
    value = getattr(house, name)
    if isinstance(value, bool):
        return "on" if value else None
    if isinstance(value, date):
        return value.isoformat()
    return form.fields[name].prepare_value(value)


def settle(form: HouseForm, stored: House) -> tuple[HouseForm, Clash]:
    """A form to look over and save again, and what to say above it.

    ``form`` is valid and was sent at an older version than ``stored``. Where its sender changed nothing, the new
    form takes what is stored; everything that the sender changed stays as typed.
    """
    opened, typed, now = form.as_opened(), form.shown(form.instance), form.shown(stored)
    data = form.data.copy()
    changes = []
    for name in form.Meta.fields:
        was = opened.get(name)
        if now[name] in (was, typed[name]):
            continue
        untouched = typed[name] == was
        if untouched:
            posted = _as_posted(form, name, stored)
            if posted is None:
                data.pop(name, None)
            else:
                data[name] = posted
        changes.append(Change(form.fields[name].label, was or "", now[name], typed[name], both=not untouched))
    data["version"], data["opened"] = stored.version, form.seal(stored)
    who = stored.saved_by.get_full_name() or stored.saved_by.get_username() if stored.saved_by else "Someone"
    fresh = HouseForm(data, instance=stored, organisation=form.organisation)
    return fresh, Clash(stored, who, tuple(changes))
