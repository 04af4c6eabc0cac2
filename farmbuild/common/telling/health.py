"""Is the server well: ``/health/live`` for whatever starts it anew, ``/health/ready`` for whatever sends it requests.

Both answer whatever name the server is called by, over http too, without a sign-in, and say nothing of anybody.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime, timedelta

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import Min, Q
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from farmbuild.common.long_work import LongWork, State
from farmbuild.common.schema_version import differences

LIVE, READY = "/health/live", "/health/ready"
#: Work that nobody began for so long has no worker.
WAITED_TOO_LONG = timedelta(minutes=15)
#: Less than so many bytes free, and SQLite soon stores nothing.
LEAST_FREE = 200_000_000


def health(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Before all that looks at hosts, https and sign-ins."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.method in ("GET", "HEAD"):
            if request.path_info == LIVE:
                return JsonResponse({"live": True}, headers={"Cache-Control": "no-store"})
            if request.path_info == READY:
                faults = faults_of_server()
                answer = {"ready": not faults, "faults": faults}
                return JsonResponse(answer, status=503 if faults else 200, headers={"Cache-Control": "no-store"})
        return get_response(request)

    return middleware


def faults_of_server() -> list[str]:
    """A sentence each; empty where all is well."""
    try:
        return [fault for fault in (_migrations(), _work()) if fault] + _disk()
    except DatabaseError:
        return ["The database does not answer.", *_disk()]
    finally:
        # It is asked from outside any page, so nobody else gives the connection back.
        if not connection.in_atomic_block:
            connection.close_if_unusable_or_obsolete()


def _migrations() -> str:
    lacking, unknown = differences()
    if unknown:
        return f"The database is of a newer version: {unknown[0]}."
    return f"The database is not migrated: {lacking[0]}." if lacking else ""


def oldest_waiting() -> datetime | None:
    """Since when the oldest work waits that nobody does."""
    found = []
    for model in apps.get_models():
        if issubclass(model, LongWork):
            waiting = Q(state=State.WAITING) | Q(
                state=State.WORKING, heard_from_at__lt=timezone.now() - WAITED_TOO_LONG
            )
            found.append(model._default_manager.filter(waiting).aggregate(at=Min(Coalesce(*model.WAITS_SINCE)))["at"])
    return min((at for at in found if at), default=None)


def _work() -> str:
    since = oldest_waiting()
    if since is None or since > timezone.now() - WAITED_TOO_LONG:
        return ""
    minutes = int((timezone.now() - since).total_seconds() // 60)
    return f"Work has waited for {minutes} minutes: no worker does it."


def _disk() -> list[str]:
    free = shutil.disk_usage(settings.DATA_DIR if settings.DATA_DIR.is_dir() else settings.BASE_DIR).free
    return [f"The disk has {free // 1_000_000} MB left."] if free < LEAST_FREE else []
