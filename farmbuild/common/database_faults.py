"""What went wrong with the database: another change was first, or a fault that pressing again does not mend."""

from __future__ import annotations

import sqlite3

from django.db import DatabaseError

#: PostgreSQL's codes of what another try may put right: serialization failure, deadlock.
TRY_AGAIN = frozenset({"40001", "40P01"})
#: Besides: a lock that did not come in time, and a statement that was ended while it waited for one.
_WAITED = TRY_AGAIN | {"55P03"}
_SQLITE_WAITED = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})

_DISK_FULL = "The disk of the server is full."
_READ_ONLY = "The server may only read its database at the moment."
_GONE = "The database of the server does not answer."
_DAMAGED = "The database of the server cannot be read as it should be."
_OTHER = "The database of the server failed."
_BY_SQLITE = {
    sqlite3.SQLITE_FULL: _DISK_FULL,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: _GONE,
    sqlite3.SQLITE_IOERR: _DAMAGED,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
}
#: By code, or by the class that its first two letters are (PostgreSQL manual, appendix A).
_BY_SQLSTATE = {"53100": _DISK_FULL, "25006": _READ_ONLY, "08": _GONE, "57": _GONE, "53": _GONE, "58": _DAMAGED}


def another_try_may_do(error: DatabaseError) -> bool:
    """PostgreSQL gave this transaction up for another's sake."""
    return _sqlstate(error) in TRY_AGAIN


def another_was_first(error: DatabaseError) -> bool:
    """A lock, a deadlock or a serialization failure: pressing once more may do."""
    return _sqlstate(error) in _WAITED or _sqlite_code(error) in _SQLITE_WAITED


def what_failed(error: DatabaseError) -> str:
    """A sentence for whoever pressed; what the database said itself is for the log."""
    state = _sqlstate(error)
    if state:
        return _BY_SQLSTATE.get(state) or _BY_SQLSTATE.get(state[:2], _OTHER)
    code = _sqlite_code(error)
    if code is not None:
        return _BY_SQLITE.get(code, _OTHER)
    # psycopg has no code where nobody answered that could have given one.
    return _GONE if type(error.__cause__).__module__.startswith("psycopg") else _OTHER


def _sqlstate(error: DatabaseError) -> str:
    return getattr(error.__cause__, "sqlstate", None) or ""


def _sqlite_code(error: DatabaseError) -> int | None:
    """Without what SQLite adds in the upper bits."""
    code = getattr(error.__cause__, "sqlite_errorcode", None)
    return None if code is None else code & 0xFF
