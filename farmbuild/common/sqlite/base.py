"""Django's SQLite with a schema editor of ours, which keeps triggers: ``ENGINE`` is ``farmbuild.common.sqlite``."""

from django.db.backends.sqlite3 import base

from farmbuild.common.sqlite.schema import DatabaseSchemaEditor


class DatabaseWrapper(base.DatabaseWrapper):
    SchemaEditorClass = DatabaseSchemaEditor
