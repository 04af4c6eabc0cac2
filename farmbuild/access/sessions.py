"""Django's sessions in the database, each with the user it is of, so that they can be listed and ended."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore

from farmbuild.access.models import Session

#: In the session: where and when it began, when it was last seen, and how long it lasts.
KEPT = "sign_in"


class SessionStore(DatabaseStore):
    @classmethod
    def get_model_class(cls) -> type[Session]:
        return Session

    def create_model_instance(self, data: dict[str, Any]) -> Session:
        row = super().create_model_instance(data)
        kept = data.get(KEPT)
        if kept and data.get(SESSION_KEY):
            row.user_id = int(data[SESSION_KEY])
            row.begun_at, row.seen_at = (datetime.fromtimestamp(kept[name], UTC) for name in ("begun", "seen"))
            row.browser, row.address = kept["browser"], kept["address"]
        return row
