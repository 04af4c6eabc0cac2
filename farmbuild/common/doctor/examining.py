"""What is looked at, one after the other; each says what it found, and a room adds its own by the signal."""

from __future__ import annotations

import os
import platform
import sqlite3
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import django
from django.conf import settings
from django.core.checks import WARNING, run_checks
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection

from farmbuild.common.doctor.schema import guards
from farmbuild.common.doctor.signals import examining
from farmbuild.common.own_files import KEY
from farmbuild.common.schema_version import differences
from farmbuild.common.telling.health import faults_of_server

GUARDS = Path(__file__).with_name("guards.txt")
#: Commands that compare rows with what they follow from, and end with CommandError where they differ.
RECOUNTS = ("recount", "recount_costs", "recount_members")
LEAST_POSTGRESQL = 14


@dataclass(frozen=True)
class Found:
    """``faults`` empty: ``what`` is well, and ``words`` say how it stands."""

    what: str
    words: str = ""
    faults: tuple[str, ...] = ()


def examine() -> Iterator[Found]:
    """Every part, also where one before it failed."""
    parts = [_versions, _settings, _files, _database, _server, _guards, _sums]
    for part in parts:
        try:
            yield part()
        except DatabaseError as error:
            yield Found(part.__doc__ or part.__name__, faults=(f"The database failed: {error}",))
    for receiver, found in examining.send_robust(None):
        if isinstance(found, Exception):
            yield Found(getattr(receiver, "__name__", "a part"), faults=(f"It could not be looked at: {found!r}",))
        else:
            yield from found


def _versions() -> Found:
    """Versions"""
    words = [f"Python {platform.python_version()}", f"Django {django.get_version()}"]
    faults = []
    if connection.vendor == "postgresql":
        version = connection.pg_version
        words.append(f"PostgreSQL {version // 10000}.{version % 10000}")
        if version // 10000 < LEAST_POSTGRESQL:
            faults.append(f"PostgreSQL {version // 10000} is too old; take {LEAST_POSTGRESQL} or newer.")
    else:
        words.append(f"SQLite {sqlite3.sqlite_version}")
    return Found("Versions", ", ".join(words), tuple(faults))


def _settings() -> Found:
    """Settings"""
    # On one's own machine there is no https to ask for.
    issues = run_checks(include_deployment_checks=bool(settings.PUBLIC_HOSTS))
    faults = [f"{issue.msg} ({issue.id})" for issue in issues if issue.level >= WARNING and not issue.is_silenced()]
    if settings.DEBUG:
        faults.append("FARMBUILD_DEBUG is on: pages of faults show the code to everybody.")
    where = f"for {', '.join(settings.PUBLIC_HOSTS)}" if settings.PUBLIC_HOSTS else "for this machine alone"
    return Found("Settings", where, tuple(faults))


def _files() -> Found:
    """Files"""
    if os.name != "posix":
        return Found("Files", "not looked at on this system")
    names = [settings.DATA_DIR / KEY]
    if connection.vendor == "sqlite":
        names += [Path(f"{connection.settings_dict['NAME']}{end}") for end in ("", "-wal", "-shm")]
    faults = []
    for path in names:
        if path.is_file() and (mode := stat.S_IMODE(path.stat().st_mode)) & 0o077:
            faults.append(f"{path} can be read by others (mode {mode:o}); it should be 600.")
        if path.is_file() and not os.access(path, os.W_OK):
            faults.append(f"{path} cannot be written by this user.")
    return Found("Files", str(settings.DATA_DIR), tuple(faults))


def _database() -> Found:
    """Database"""
    if connection.vendor != "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        return Found("Database", f"{connection.settings_dict['NAME']} answers")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check(20)")
        faults = [line for (line,) in cursor.fetchall() if line != "ok"]
        cursor.execute("PRAGMA foreign_key_check")
        faults += [f"A row of {table} names one of {other} that is not there." for table, _, other, _ in cursor]
    return Found("Database", f"{connection.settings_dict['NAME']} is whole", tuple(faults[:20]))


def _server() -> Found:
    """Migrations, work and disk"""
    return Found("Migrations, work and disk", "nothing is missing or waits", tuple(faults_of_server()))


def _guards() -> Found:
    """Guards"""
    wanted = _guards_of(connection.vendor)
    lacking = [line.split(" ", 2) for line in sorted(wanted - guards())]
    faults = [f"The guard {name} ({kind} at {table}) is not in the database." for table, kind, name in lacking]
    named = named_guards(connection.vendor)
    faults += [
        f"The guard {name} is switched off." for name, on in sorted(triggers().items()) if name in named and not on
    ]
    if any(differences()):
        faults.insert(0, "Code and database are of two versions, so their guards may differ.")
    return Found("Guards", f"{len(wanted)} are in their places", tuple(faults))


def _sums() -> Found:
    """Sums"""
    faults = []
    for name in RECOUNTS:
        said = StringIO()
        try:
            call_command(name, stdout=said)
        except CommandError as error:
            faults += [*said.getvalue().splitlines()[:20], f"{error} See manage.py {name}."]
    return Found("Sums", "stock, costs and members' accounts add up", tuple(faults))


def named_guards(vendor: str) -> set[str]:
    """Names of the triggers that a database of this version has."""
    return {name for _, kind, name in (line.split(" ", 2) for line in _guards_of(vendor)) if kind == "trigger"}


def _guards_of(vendor: str) -> set[str]:
    """Triggers, checks and what is there once, as ``guards()`` says those of a database."""
    other = "sqlite" if vendor == "postgresql" else "postgresql"
    lines = [line for line in GUARDS.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    return {line.removeprefix(f"{vendor}: ") for line in lines if not line.startswith(f"{other}: ")}


def triggers() -> dict[str, bool]:
    """Name of each trigger there, and whether it is on."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, 1 FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname, tgenabled <> 'D' FROM pg_trigger WHERE NOT tgisinternal")
        return {name: bool(on) for name, on in cursor.fetchall()}
