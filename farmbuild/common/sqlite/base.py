"""Django's SQLite, keeping triggers and with long INSERTs of ours: ``ENGINE`` is ``farmbuild.common.sqlite``."""

import contextlib
import os
import threading
from typing import Any

from django.db.backends.sqlite3 import base

from farmbuild.common.sqlite.operations import DatabaseOperations
from farmbuild.common.sqlite.schema import DatabaseSchemaEditor

_making = threading.Lock()


class DatabaseWrapper(base.DatabaseWrapper):
    SchemaEditorClass = DatabaseSchemaEditor
    ops_class = DatabaseOperations

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """A new file is for its owner's eyes, and so are those that SQLite makes beside it after its pattern."""
        name = os.fspath(conn_params["database"])
        if not name.startswith(("file:", ":")):
            # A file that is there must not be opened but by SQLite: closing it ends the locks of every connection of
            # this process, and another that closes last takes away the log into which these go on writing
            # (https://www.sqlite.org/howtocorrupt.html, 2.2). What cannot be made is told by SQLite, in its own words.
            with _making, contextlib.suppress(OSError):
                os.close(os.open(name, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        return super().get_new_connection(conn_params)
