"""The site on one's own machine: what must be right is looked at before the work, and said in a sentence."""

from __future__ import annotations

import os
import socket
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError
from django.core.wsgi import get_wsgi_application
from django.db import DatabaseError, connection

from farmbuild.common.background import release_left_behind, watch
from farmbuild.common.quick_migrations import migrate

HOST = "127.0.0.1"


def check_port(port: int, *, command: str) -> None:
    """Raises CommandError where nothing could be served there."""
    if not 0 < port < 65536:
        raise CommandError(f"{port} is no port. Give one from 1024 to 65535: manage.py {command} --port 8000")
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
        # As the server itself will: a port whose last answer is still on its way is free.
        if os.name == "posix":
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind((HOST, port))
        except PermissionError as error:
            raise CommandError(f"Port {port} needs an administrator. Give another: --port 8000") from error
        except OSError as error:
            raise CommandError(f"Port {port} is taken. Give another: manage.py {command} --port {port + 1}") from error


def check_folder(folder: Path) -> None:
    """Raises CommandError where no file can be written."""
    tried = folder / f".written-{os.getpid()}"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        tried.write_bytes(b"farmbuild")
        tried.unlink()
    except OSError as error:
        raise CommandError(
            f"Nothing can be written to {folder} ({error.strerror}). Free some room or choose another folder:"
            " FARMBUILD_DATA=FOLDER in front of the command."
        ) from error


def prepare_database() -> None:
    """Make the tables, or bring them up to date. Raises CommandError with what to do."""
    with plain_words():
        migrate()


@contextmanager
def plain_words() -> Iterator[None]:
    """What goes wrong with the database or its disk in there becomes one sentence."""
    try:
        yield
    except DatabaseError as error:
        raise CommandError(_said(error)) from error
    except OSError as error:
        raise CommandError(f"{error.strerror or error}: {error.filename or settings.DATA_DIR}.") from error


def _said(error: DatabaseError) -> str:
    where = connection.settings_dict["NAME"]
    if connection.vendor != "sqlite":
        return f"The database {where} does not answer: {str(error).splitlines()[0]}."
    code = getattr(error.__cause__, "sqlite_errorcode", 0) & 0xFF
    told = {
        sqlite3.SQLITE_FULL: "The disk is full. Free some room, then start again; nothing was lost.",
        sqlite3.SQLITE_READONLY: f"{where} may only be read. Let this user write to it, then start again.",
        sqlite3.SQLITE_CANTOPEN: f"{where} cannot be opened. Let this user write to its folder, then start again.",
        sqlite3.SQLITE_NOTADB: f"{where} is no database of farmbuild. Move it away, or give FARMBUILD_DATA=FOLDER.",
        sqlite3.SQLITE_CORRUPT: f"{where} is damaged. Put the last copy of it in its place, then start again.",
        sqlite3.SQLITE_BUSY: f"Another program keeps {where} busy. Stop it, then start again.",
        sqlite3.SQLITE_IOERR: f"{where} cannot be read or written; the disk may be full or failing.",
    }
    return told.get(code, f"The database {where} cannot be used: {error}.")


def serve(port: int, *, command: str, say: Callable[[], None]) -> None:
    """Serve until Ctrl+C; ``say`` tells where, once it listens. Raises CommandError where the port is taken by then."""
    from farmbuild.common.request_size import waitress_server

    application = get_wsgi_application()
    # A database on another machine may have other processes at work.
    if connection.vendor == "sqlite":
        with plain_words():
            release_left_behind()
    watch()
    try:
        server = waitress_server(application, host=HOST, port=port, threads=6, ident=None)
    except OSError as error:
        raise CommandError(f"Port {port} is taken. Give another: manage.py {command} --port {port + 1}") from error
    say()
    server.run()
