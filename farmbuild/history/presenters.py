"""Entries as a page or a file shows them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext

from farmbuild.common.pages import first_rows
from farmbuild.common.speaking import said_count
from farmbuild.history.kept import kinds
from farmbuild.history.models import Entry
from farmbuild.history.selectors import entries_of_record, removed_records
from farmbuild.history.values import words_of
from farmbuild.history.words import said_choice, said_deed, said_name
from farmbuild.measure.speech import gettext_noop

#: Entries that the page of a record shows.
LAST = 10
#: Changes of one entry there; the page of the act has all.
FEW = 5
_NOUNS = (gettext_noop("more record"), gettext_noop("more records"))


@dataclass(frozen=True)
class Change:
    """``label`` names the part too, where it is one of a part."""

    label: str
    before: str
    after: str

    @property
    def sentence(self) -> str:
        words = {"label": self.label, "before": self.before, "after": self.after}
        return gettext("%(label)s: %(before)s to %(after)s") % words


@dataclass(frozen=True)
class Shown:
    """One entry. ``url``: of the record's page, "" for none. ``more``: changes that are not among those shown here;
    ``hidden``: there are some that only others see."""

    entry: Entry
    record: str
    deed: str
    url: str
    changes: tuple[Change, ...]
    more: int
    hidden: bool

    @property
    def sentence(self) -> str:
        return sentence_of(self.entry)


def changes_of(entry: Entry, organisation: Any, *, costs: bool) -> list[Change]:
    return [
        Change(_label(change), *(_value(entry, change, side, organisation) for side in ("a", "b")))
        for change in entry.changes
        if costs or not change.get("costs")
    ]


def _label(change: dict[str, Any]) -> str:
    label = said_name(change["l"])
    words = f"{change['p']}, {label}" if change.get("p") else label
    return f"{words[:1].upper()}{words[1:]}"


def _value(entry: Entry, change: dict[str, Any], side: str, organisation: Any) -> str:
    value = change[side]
    if value and "t" in value:
        return said_choice(entry.kind, change["l"], value["t"])
    return words_of(value, organisation)


def record_words(entry: Entry) -> str:
    """house North Field 1. A kind that is no longer kept is left out."""
    kept = kinds().get(entry.kind)
    return f"{said_name(kept.title)} {entry.name}" if kept else entry.name


def sentence_of(entry: Entry) -> str:
    words = {"who": entry.who, "deed": said_deed(entry.deed), "record": record_words(entry)}
    return gettext("%(who)s %(deed)s %(record)s") % words


def others_words(entry: Entry) -> str:
    """and 3 more records; "" where the act changed no other."""
    if not entry.others:
        return ""
    return gettext("and %(records)s") % {"records": said_count(entry.others, "more record")}


def shown(entries: Iterable[Entry], organisation: Any, *, costs: bool, most: int | None = None) -> list[Shown]:
    entries = list(entries)
    gone = removed_records(organisation=organisation, entries=entries) if entries else set()
    rows = []
    for entry in entries:
        changes = changes_of(entry, organisation, costs=costs)
        rows.append(
            Shown(
                entry=entry,
                record=record_words(entry),
                deed=said_deed(entry.deed),
                url="" if (entry.kind, entry.record) in gone else address_of(entry),
                changes=tuple(changes[:most]),
                more=len(changes[most:]) if most else 0,
                hidden=len(changes) < len(entry.changes),
            )
        )
    return rows


def may_see_costs(request: HttpRequest) -> bool:
    """Before acts were told apart, everybody of an organisation saw them."""
    acts = getattr(request, "acts", None)
    return acts is None or "costs" in acts


def last_of(row: Any, request: HttpRequest) -> dict[str, Any]:
    """What the page of a record shows of its history, one query: who, when, what, and whether there is more."""
    entries, more = first_rows(entries_of_record(row=row), LAST)
    costs = may_see_costs(request)
    found = [(entry, changes_of(entry, request.organisation, costs=costs)) for entry in entries]
    return {
        "entries": [(entry, said_deed(entry.deed), changes[:FEW], len(changes[FEW:])) for entry, changes in found],
        "more": more,
        "kind": entries[0].kind if entries else "",
        "record": row.pk,
    }


def address_of(entry: Entry) -> str:
    """Of the record's page; "" where it has none."""
    kept = kinds().get(entry.kind)
    if not kept or not kept.leads_to or not entry.address_key:
        return ""
    try:
        return reverse(kept.leads_to[0], args=entry.address_key.split())
    except NoReverseMatch:
        return ""
