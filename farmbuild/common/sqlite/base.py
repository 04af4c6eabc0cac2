"""Django's SQLite, keeping triggers and with long INSERTs of ours: ``ENGINE`` is ``farmbuild.common.sqlite``."""

from django.db.backends.sqlite3 import base

from farmbuild.common.sqlite.operations import DatabaseOperations
from farmbuild.common.sqlite.schema import DatabaseSchemaEditor


class DatabaseWrapper(base.DatabaseWrapper):
    SchemaEditorClass = DatabaseSchemaEditor
    ops_class = DatabaseOperations
