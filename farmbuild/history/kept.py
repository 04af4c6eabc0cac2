"""Which tables the history keeps, as each room says in its ``what_changed.py``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from django.db.models import Field, ForeignKey, Model

#: What a deed is called, by what a column became: two words for empty no more and empty again, or a word a value.
Deeds = Mapping[str, "tuple[str, str] | Mapping[Any, str]"]
ARCHIVES: Deeds = {"archived_at": ("archived", "brought back")}
#: What has one of these in its name is never in the history, whatever a room says.
SECRETS = ("password", "token", "secret", "hash", "digest", "worker")


def is_secret(name: str) -> bool:
    return any(word in name for word in SECRETS)


@dataclass(frozen=True)
class Kept:
    """One table. ``of``: the foreign key to the record that its rows are parts of; a record of its own has none.

    ``names``: columns that are told. ``money``: those in the organisation's currency, which only they see who may see
    costs. ``name``: what a row is called; a part that is
    written anew is found again by it. ``added``: what making a row is
    called; None: not told, because the row is itself the record of what was done. ``leads_to``: name of the address
    of a record, and the columns in it. ``said``: how values of a column are said that has words of its own. ``whole``:
    what a part is called that came or went whole.
    """

    model: type[Model]
    kind: str
    title: str
    of: str
    names: tuple[str, ...]
    many: tuple[str, ...]
    money: frozenset[str]
    deeds: Deeds
    added: str | Callable[[Any], str | None] | None
    leads_to: tuple[str, ...] | None
    name: Callable[[Any], str]
    with_rows: tuple[str, ...]
    labels: Mapping[str, str]
    said: Mapping[str, Callable[[Any], str]]
    whole: Callable[[Any], str]

    def field(self, name: str) -> Field:
        return self.model._meta.get_field(name)

    def label(self, name: str) -> str:
        return self.labels.get(name) or str(self.field(name).verbose_name)

    def address_key(self, row: Any) -> str:
        """What the address of the row's page has of it, spaces between; "" where it has no page."""
        return " ".join(str(attrgetter(name)(row)) for name in self.leads_to[1:]) if self.leads_to else ""

    def added_as(self, row: Any) -> str | None:
        return self.added(row) if callable(self.added) else self.added


KEPT: dict[type[Model], Kept] = {}


def record_of(model: type[Model]) -> Kept:
    """The record that rows of a kept table are, or are parts of."""
    kept = KEPT[model]
    return record_of(parent_of(kept)) if kept.of else kept


def parent_of(kept: Kept) -> type[Model]:
    field = kept.field(kept.of)
    assert isinstance(field, ForeignKey)
    return field.related_model


def kinds() -> dict[str, Kept]:
    """The records by kind, in the order of their titles."""
    found = {kept.kind: kept for kept in KEPT.values() if kept.kind}
    return dict(sorted(found.items(), key=lambda item: item[1].title))
