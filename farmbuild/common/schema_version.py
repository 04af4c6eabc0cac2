"""Whether code and database are of one version: what is migrated, and what this code knows of."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from django.apps import apps
from django.core.management.base import CommandError
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder


@cache
def known() -> frozenset[tuple[str, str]]:
    """App and name of every migration of ours."""
    found = set()
    for config in apps.get_app_configs():
        if not config.name.startswith("farmbuild."):
            continue
        try:
            package = import_module(f"{config.name}.migrations")
        except ModuleNotFoundError:
            continue
        found |= {(config.label, module.name) for module in iter_modules(package.__path__)}
    return frozenset(found)


def differences() -> tuple[list[str], list[str]]:
    """What the database lacks, and what it has that this code does not know. Raises DatabaseError."""
    ours = {label for label, _ in known()}
    there = {key for key in MigrationRecorder(connection).applied_migrations() if key[0] in ours}
    lacking, unknown = known() - there, there - known()
    return sorted(f"{app} {name}" for app, name in lacking), sorted(f"{app} {name}" for app, name in unknown)


def why_not_to_serve() -> str:
    """A sentence where this code and the database do not belong together; empty where they do."""
    lacking, unknown = differences()
    if unknown:
        return (
            f"The database belongs to a newer version of farmbuild (it has {unknown[0]}, which this one does not know)."
            " Start the newer version; nothing was changed."
        )
    if lacking:
        return (
            f"The database is of an older version ({lacking[0]} is missing). Run manage.py migrate, then start again."
        )
    return ""


def refuse_another_version() -> None:
    """At the start of whatever serves or works. Raises CommandError; a database that does not answer yet is waited
    for by the pages, not here."""
    try:
        why = why_not_to_serve()
    except DatabaseError:
        return
    finally:
        connection.close()
    if why:
        raise CommandError(why)
