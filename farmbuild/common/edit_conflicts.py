"""Two people at one form: the second to save is told what the first stored, and nothing typed is lost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.translation import gettext

from farmbuild.common.forms import OrgModelForm, display_value


@dataclass(frozen=True)
class Change:
    """One field that the other person changed. ``both``: the reader changed it too, to something else."""

    label: str
    opened: str
    stored: str
    typed: str
    both: bool

    def __str__(self) -> str:
        words = gettext("%(label)s: was %(opened)s, now %(stored)s") % {
            "label": self.label,
            "opened": self.opened,
            "stored": self.stored,
        }
        return (
            gettext("%(words)s (you typed %(typed)s, which stays)") % {"words": words, "typed": self.typed}
            if self.both
            else words
        )


class EditConflict(ValidationError):
    """Another save came between; the form holds what to look over and send again. ``stored``: the row as it is now."""

    def __init__(self, stored: Any, changes: tuple[Change, ...]) -> None:
        told = " ".join(f"{change}." for change in changes)
        super().__init__(
            gettext("Someone else saved this while you were typing. %(told)s Look it over and save again.")
            % {"told": told}
        )
        self.stored, self.changes = stored, changes


def _set_data(data: QueryDict, form: OrgModelForm, name: str, row: Any) -> None:
    """Let the form say what the row says, as a browser would send it."""
    field, key, value = form.fields[name], form.add_prefix(name), getattr(row, name)
    data.pop(key, None)
    if isinstance(field, forms.ModelMultipleChoiceField):
        data.setlist(key, [str(pk) for pk in value.values_list("pk", flat=True)])
    elif isinstance(field, forms.BooleanField):
        if value:
            data[key] = "on"
    elif value or (value is not None and not getattr(field, "none_is_empty", False)):
        shown = value.isoformat() if hasattr(value, "isoformat") else field.prepare_value(value)
        data[key] = str(shown)


def merge_stored(form: OrgModelForm, stored: Any) -> tuple[Change, ...]:
    """What the other person changed that the reader has not typed as well, once the form is ready to look over.

    ``form`` was sent for an older state of the row than ``stored``. Where its sender changed nothing it takes what
    is stored; everything that the sender changed stays as typed.
    """
    opened, now = form.opened_values(), form.display_values(stored)
    data, changes = form.data.copy(), []
    for name, stands in now.items():
        field = form.fields.get(name)
        was = opened.get(name, "" if field else stands)
        if field:
            typed = display_value(field, form.cleaned_data.get(name))
        else:
            typed = form.beside(name) if name in form.typed_beside else was
        if stands in (was, typed):
            continue
        if field and typed == was:
            _set_data(data, form, name, stored)
        elif name in form.typed_beside and typed == was:
            form.take_beside(name, stored)
        label = str(field.label) if field else name.capitalize()
        changes.append(Change(label, was, stands, typed, both=typed != was))
    data[form.add_prefix("opened")] = form.signed_values(stored)
    form.data, form.instance = data, stored
    return tuple(changes)


def refuse_if_changed(form: OrgModelForm) -> None:
    """Ask in the transaction that stores the form. Raises EditConflict where what was read is not there any more."""
    if not isinstance(form, OrgModelForm) or form.instance._state.adding:
        return
    if not (form.opened_values() or form.needs_opened_values):
        return
    # The organisation comes first, as in every lock.
    type(form.organisation)._default_manager.select_for_update(no_key=True).get(pk=form.organisation.pk)
    stored = type(form.instance)._base_manager.select_for_update(no_key=True).filter(pk=form.instance.pk).first()
    if stored is None:
        raise ValidationError(gettext("Someone else took this out while you were typing. Nothing is saved."))
    stored.organisation = form.organisation
    if changes := merge_stored(form, stored):
        form.full_clean()
        raise EditConflict(stored, changes)
