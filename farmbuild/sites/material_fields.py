"""Choices of materials in the form of a house: forty fields that share one query."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.models import ModelChoiceIterator
from django.utils.functional import SimpleLazyObject

from farmbuild.catalogue.models import Material


class _Choices(ModelChoiceIterator):
    def __iter__(self) -> Iterator[tuple[Any, str]]:
        if self.field.empty_label is not None:
            yield ("", self.field.empty_label)
        yield from (self.choice(row) for row in self.field.rows)

    def __len__(self) -> int:
        return len(self.field.rows) + (self.field.empty_label is not None)

    def __bool__(self) -> bool:
        return True


class MaterialChoiceField(forms.ModelChoiceField):
    """Offers those of ``shared`` that are of its kinds, and ``own``, which the house has already."""

    iterator = _Choices
    #: What it offers is given, so no query of all materials is narrowed down for each of the forty.
    offers_given = True
    shared: Sequence[Material] = ()
    kinds: frozenset[str] = frozenset()
    own: int | None = None

    def get_limit_choices_to(self) -> None:
        """Its kinds say it."""

    def offer(self, shared: Sequence[Material], *, kinds: frozenset[str], own: int | None) -> None:
        self.shared, self.kinds, self.own = shared, kinds, own
        self.widget.choices = self.choices

    @property
    def rows(self) -> list[Material]:
        return [
            row for row in self.shared if row.pk == self.own or (row.archived_at is None and row.kind in self.kinds)
        ]

    def to_python(self, value: Any) -> Material | None:
        if value in self.empty_values:
            return None
        found = next((row for row in self.rows if str(row.pk) == str(getattr(value, "pk", value))), None)
        if found is None:
            raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice", params={"value": value})
        return found


def read_once(rows: Any) -> Sequence[Material]:
    """The rows of a query, asked for where they are first needed, and then once for all fields."""
    return SimpleLazyObject(lambda: list(rows))
