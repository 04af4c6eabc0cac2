"""The order in which entries are told to programs: by key, and none that could still come between.

PostgreSQL gives keys out before their transactions end, so a later one may be there first. Whoever writes entries of an
organisation holds a lock until it ends, which writers share; whoever tells of them waits for a moment in which nobody
holds it. All keys up to the last are then those of transactions that are over. SQLite has one writer at a time.
"""

from __future__ import annotations

import time
from collections.abc import Iterable

from django.db import connection, transaction
from django.db.models import Max

from farmbuild.history.models import Entry

#: So that no other lock of the program has these numbers; the key of the organisation is added.
_LOCKS = 7_301_000_000_000_000
#: Tries, and seconds between them: asking never makes a writer wait.
_TRIES, _PAUSE = 20, 0.05


def take_place(organisations: Iterable[int]) -> None:
    """Within a transaction, before entries of these organisations are written."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            for key in sorted(organisations):
                cursor.execute("SELECT pg_advisory_xact_lock_shared(%s)", [_LOCKS + key])


def last_settled(*, organisation: int) -> int | None:
    """Key of the last entry such that none below it is still to come; 0 without any. None: writers were at work all
    the while.
    """
    for _ in range(_TRIES):
        with transaction.atomic():
            if _is_quiet(organisation):
                return Entry.objects.filter(organisation=organisation).aggregate(last=Max("pk"))["last"] or 0
        time.sleep(_PAUSE)
    return None


def _is_quiet(organisation: int) -> bool:
    """Until the transaction ends nobody writes there."""
    if connection.vendor != "postgresql":
        return True
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [_LOCKS + organisation])
        return cursor.fetchone()[0]
