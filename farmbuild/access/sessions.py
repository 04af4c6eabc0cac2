"""Django's sessions in the database, each with the user it is of, so that they can be listed and ended."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.db.models import QuerySet
from django.utils import timezone

from farmbuild.access.models import Session
from farmbuild.common.compiled import compiled_once

#: In the session: where and when it began, when it was last seen, and how long it lasts.
KEPT = "sign_in"


class SessionStore(DatabaseStore):
    @classmethod
    def get_model_class(cls) -> type[Session]:
        return Session

    def _get_session_from_db(self) -> Session | None:
        """As Django's, which writes its query anew for every page."""
        found = _session_of(self.session_key, timezone.now()) if self.session_key else []
        if not found:
            self._session_key = None
        return found[0] if found else None

    def create_model_instance(self, data: dict[str, Any]) -> Session:
        row = super().create_model_instance(data)
        kept = data.get(KEPT)
        if kept and data.get(SESSION_KEY):
            row.user_id = int(data[SESSION_KEY])
            row.begun_at, row.seen_at = (datetime.fromtimestamp(kept[name], UTC) for name in ("begun", "seen"))
            row.browser, row.address = kept["browser"], kept["address"]
        return row


@compiled_once
def _session_of(key: str, now: datetime) -> QuerySet[Session]:
    return Session.objects.filter(session_key=key, expire_date__gt=now)
