"""Keys of rows that come in: behind all that the database has given out, in the order that they had."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import connection
from django.db.models import AutoField, BigAutoField, Max, Model

from farmbuild.moving.archive import Damaged
from farmbuild.moving.ownership import USER


def hold(models: Iterable[type[Model]]) -> None:
    """Until the transaction ends nobody else gives out a key of these tables."""
    if connection.vendor == "postgresql":
        names = ", ".join(connection.ops.quote_name(model._meta.db_table) for model in models)
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE {names} IN SHARE ROW EXCLUSIVE MODE")


def last_given(model: type[Model]) -> int:
    """The highest key that a row of the table has or had."""
    last = model._base_manager.aggregate(last=Max("pk"))["last"] or 0
    if not _counts(model):
        return last
    table, column = model._meta.db_table, model._meta.pk.column
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [connection.ops.quote_name(table), column])
            cursor.execute(f"SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {cursor.fetchone()[0]}")
        else:
            cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        found = cursor.fetchone()
    return max(last, found[0] if found else 0)


def give_after(model: type[Model], last: int) -> None:
    """New rows get higher keys than ``last``: that of a row which went may still be named somewhere."""
    if not _counts(model) or last < 1:
        return
    table, column = model._meta.db_table, model._meta.pk.column
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            name = connection.ops.quote_name(table)
            cursor.execute("SELECT setval(pg_get_serial_sequence(%s, %s), %s)", [name, column, last])
            return
        cursor.execute("UPDATE sqlite_sequence SET seq = %s WHERE name = %s", [last, table])
        if not cursor.rowcount:
            cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, last])


def _counts(model: type[Model]) -> bool:
    return isinstance(model._meta.pk, AutoField | BigAutoField)


class Keys:
    """From the keys of the export to those here, and back. ``bounds``: lowest and highest of each table there.

    All of a table move by one number, so that what was before stays before, and the key of a row which is gone leads
    to none here either. ``people``: their keys there and here.
    """

    def __init__(self, bounds: Mapping[str, tuple[int, int]], taken: Mapping[str, int], people: Mapping[int, int]):
        self.bounds = bounds
        self.by = {label: taken[label] + 1 - first for label, (first, _) in bounds.items()}
        self._people = people
        self._back = {here: there for there, here in people.items()}

    def here(self, label: str, key: int) -> int:
        """Raises Damaged for a key that stands nowhere in the export."""
        if label == USER:
            # Someone who was deleted before is named by nobody's key.
            return self._people.get(key, -key)
        first, last = self.bounds.get(label, (1, 0))
        if not isinstance(key, int) or isinstance(key, bool) or not first <= key <= last:
            raise Damaged(f"it names row {key} of {label}, which is not in it")
        return key + self.by[label]

    def there(self, label: str, key: int) -> int:
        if label == USER:
            return self._back.get(key, -key)
        return key - self.by.get(label, 0)

    def last(self, label: str) -> int:
        return self.bounds[label][1] + self.by[label]
