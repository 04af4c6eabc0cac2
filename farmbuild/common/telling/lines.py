"""A line of the log: one JSON object (RFC 8259), so that another program can read it, or plain words for a screen."""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime
from typing import Any

from farmbuild.common.telling.requests import address_told, current_request, number_of

_USUAL = frozenset(logging.makeLogRecord({}).__dict__) | {"message", "asctime", "request", "status_code", "taskName"}


class WithRequest(logging.Filter):
    """Puts to each line whose request it belongs to, as far as that is known without asking the database."""

    def filter(self, record: logging.LogRecord) -> bool:
        request = current_request()
        record.number = number_of(request)
        record.user = getattr(getattr(request, "_cached_user", None), "pk", None)
        # Of a program, the name that its owner gave it.
        record.program = getattr(request, "token_name", None)
        record.organisation = getattr(getattr(request, "organisation", None), "slug", None)
        record.address = address_told(request) if request else None
        return True


class HidesAddresses(logging.Filter):
    """Django tells the whole address of what was not found or failed; secret ones are not for a log."""

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        if record.name == "django.request" and request is not None and hasattr(request, "path_info"):
            record.args = tuple(
                address_told(request) if arg in (request.path, request.get_full_path()) else arg
                for arg in record.args or ()
            )
        return True


class JsonLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "says": record.getMessage(),
        }
        more = {name: value for name, value in record.__dict__.items() if name not in _USUAL}
        names = {"number": "request"}
        line |= {names.get(name, name): value for name, value in more.items() if value not in (None, "")}
        if record.exc_info:
            line["fault"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


class PlainLines(logging.Formatter):
    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(message)s")
