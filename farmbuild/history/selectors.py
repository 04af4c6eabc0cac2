"""Reads of the history."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib.auth import get_user_model
from django.db.models import Exists, F, OuterRef, QuerySet
from django.utils import timezone

from farmbuild.history.kept import record_of
from farmbuild.history.models import Entry
from farmbuild.history.order import last_settled


def entries_of(*, organisation: Any) -> QuerySet[Entry]:
    """Everything that people changed, newest first."""
    return Entry.objects.filter(organisation=organisation).order_by("-at", "-pk")


def entries_after(*, organisation: Any, mark: int, most: int) -> tuple[list[Entry], int]:
    """The next ones by key, and the mark after them; nothing that is skipped now is told later (``order.py``)."""
    last = last_settled(organisation=organisation.pk)
    if last is None:
        return [], mark
    rows = Entry.objects.filter(organisation=organisation, pk__gt=mark, pk__lte=last).order_by("pk")
    found = list(rows[:most])
    return found, found[-1].pk if found else mark


def entries_of_record(*, row: Any) -> QuerySet[Entry]:
    """What people changed of one record and of its parts."""
    kept = record_of(type(row))
    owner = row.pk if kept.model is type(row) and not hasattr(row, "organisation_id") else row.organisation_id
    return entries_of(organisation=owner).filter(kind=kept.kind, record=row.pk)


def narrowed(
    *,
    organisation: Any,
    user: int | None = None,
    kind: str = "",
    record: int | None = None,
    since: date | None = None,
    until: date | None = None,
    every: bool = False,
) -> QuerySet[Entry]:
    """An entry an act, which says how many others there are of it; of one kind or record, or asked so, every entry."""
    rows = entries_of(organisation=organisation)
    if user is not None:
        rows = rows.filter(user=user)
    if kind:
        rows = rows.filter(kind=kind)
    if record is not None:
        rows = rows.filter(record=record)
    if not (every or kind or record is not None):
        rows = rows.filter(first=True)
    if since:
        rows = rows.filter(at__gte=_midnight(since))
    if until:
        rows = rows.filter(at__lt=_midnight(until + timedelta(days=1)))
    return rows


def entries_of_act(*, organisation: Any, act: UUID) -> QuerySet[Entry]:
    """All that one act changed, what stands for it in front."""
    return Entry.objects.filter(organisation=organisation, act=act).order_by("-first", "pk")


def people_of(*, organisation: Any) -> QuerySet:
    """Everybody who changed something here, whether they still belong to it or not."""
    own = Entry.objects.filter(organisation=organisation, user=OuterRef("pk"))
    return get_user_model().objects.filter(Exists(own)).order_by(F("first_name"), F("last_name"), "username")


def removed_records(*, organisation: Any, entries: list[Entry]) -> set[tuple[str, int]]:
    """Which of the records that these entries tell of are there no more."""
    removed = Entry.objects.filter(
        organisation=organisation, removed=True, record__in={entry.record for entry in entries}
    )
    return set(removed.order_by().values_list("kind", "record"))


def _midnight(day: date) -> datetime:
    """Where the reader's day begins. A plain comparison; asking each row for its day would take far longer."""
    return timezone.make_aware(datetime.combine(day, datetime.min.time()))
