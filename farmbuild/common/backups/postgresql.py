"""A PostgreSQL database, by its own programs pg_dump and pg_restore."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.db import connection, transaction

from farmbuild.common.backups.contents import of_postgresql


def copy(to: Path) -> dict[str, Any]:
    """Dump and contents of one moment, whatever others write meanwhile."""
    program = _program("pg_dump")
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        to.touch(mode=0o600)
        _run(program, "--format=custom", "--no-owner", "--no-acl", f"--snapshot={snapshot}", f"--file={to}")
        return of_postgresql(cursor)


def contents() -> dict[str, Any]:
    with transaction.atomic(), connection.cursor() as cursor:
        return of_postgresql(cursor)


def check_empty() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace")
        if cursor.fetchone()[0]:
            name = connection.settings_dict["NAME"]
            raise CommandError(f"The database {name} has tables already. Make an empty one; nothing was changed.")


def put(dump: Path) -> None:
    """All of it or nothing."""
    program = _program("pg_restore")
    name = str(connection.settings_dict["NAME"])
    connection.close()
    _run(program, "--no-owner", "--no-acl", "--single-transaction", "--exit-on-error", f"--dbname={name}", str(dump))


def _program(name: str) -> str:
    if found := shutil.which(name):
        return found
    raise CommandError(f"{name} is not on this machine. It comes with PostgreSQL; on Debian: postgresql-client.")


def _run(program: str, *options: str) -> None:
    """By the settings of the connection; a password goes by the environment, where nobody else can read it."""
    given = connection.settings_dict
    names = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    wanted = {name: str(given[key]) for name, key in names.items() if given.get(key)}
    if mode := given.get("OPTIONS", {}).get("sslmode"):
        wanted["PGSSLMODE"] = mode
    done = subprocess.run(
        [program, *options],
        env=os.environ | wanted,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise CommandError(f"{Path(program).name} stopped: {done.stderr.strip()[:500]}")
