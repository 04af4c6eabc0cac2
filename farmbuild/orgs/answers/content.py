"""What the rows of an organisation say, as one digest: what is worked out of them stands as long as it does.

By content, not by marks or times: whatever changes a row changes the digest, however it was written, and what was
rolled back leaves it as it was. One query, in which the database reads the rows and puts them together.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cache
from hashlib import blake2b
from typing import Any
from weakref import WeakKeyDictionary

from django.apps import apps
from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BinaryField, Field, ForeignKey, Model

from farmbuild.orgs.models import Organisation, User
from farmbuild.orgs.signals import asking_neighbours

#: Apps of whose rows nothing kept is worked out, and why; tests hold the pages to that.
LEFT_OUT_APPS: Mapping[str, str] = {
    "access": "who signs in, and how",
    "api": "what other programs ask",
    "common": "forms that were sent",
    "costs": "what work and trips come to, on pages of its own",
    "history": "what was told of the rows, not what they are",
    "moving": "exports",
    "projects": "a file that is half read in",
    "quotes": "what customers are offered, on pages of its own",
}
#: Tables of these apps that are read all the same, and why.
READ_ALL_THE_SAME: Mapping[str, str] = {
    "quotes.Job": "whether a house is as its customer agreed stands on its page",
    "quotes.JobHouse": "the same",
}
#: Tables, columns by table, and why.
LEFT_OUT: Mapping[str, str] = {
    "crew.CalendarFeed": "secrets of calendars",
    "crew.SentWarning": "which e-mails went out",
    "coop.FarmCard": "secrets of cards",
    "coop.SentStatement": "statements as they were sent",
    "stock.CountDraft": "a file that is half read in",
    "stock.ImportDraft": "a file that is half read in",
    "stock.ImportLot": "a file that is half read in",
    "stock.ImportPart": "a file that is half read in",
}
COLUMNS_LEFT_OUT: Mapping[str, Collection[str]] = {
    # Moves with every page; the day on which somebody was last here is on no page that is kept.
    "orgs.Membership": {"used_at"},
    # A snapshot never changes, and has its digest beside it.
    "plans.Plan": {"inputs", "result"},
    # Stored whole with the state or the day of publishing that stands beside them.
    "crew.Schedule": {"inputs", "seen", "result"},
    "plans.PlanSavings": {"buying", "found"},
    "plans.PlanFromYard": {"asked", "found"},
}
#: Rows that the database never lets change, so that which of them there are tells of all.
GROWING = frozenset({"crew.Actual", "stock.Movement"})
#: Whoever stands beside a row may be of another organisation, or of none any more.
NAMES: Mapping[type[Model], tuple[str, ...]] = {
    User: ("id", "username", "first_name", "last_name"),
    Organisation: ("id", "name", "slug"),
}
#: SQLite takes no more arguments of a function.
_ARGUMENTS = 100


@cache
def way_to_organisation(model: type[Model]) -> str:
    """A lookup from a row to its organisation; "" where none is certain."""
    if model is Organisation:
        return "pk"
    named = [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey) and not field.null and field.related_model is not User
    ]
    if any(field.name == "organisation" for field in named):
        return "organisation"
    ways = ((field.name, way_to_organisation(field.related_model)) for field in named)
    return next((f"{name}__{way}" for name, way in ways if way), "")


@cache
def models_read() -> tuple[type[Model], ...]:
    return tuple(
        model
        for model in apps.get_models(include_auto_created=True)
        if (model._meta.app_label not in LEFT_OUT_APPS or model._meta.label in READ_ALL_THE_SAME)
        and model._meta.label not in LEFT_OUT
        and way_to_organisation(model)
    )


@cache
def columns_of(model: type[Model]) -> list[Field[Any, Any]]:
    """The key first. Photos and files stay as they are, so their rows are told by the other columns."""
    without = COLUMNS_LEFT_OUT.get(model._meta.label, ())
    fields = [
        field
        for field in model._meta.concrete_fields
        if not isinstance(field, BinaryField) and field.attname not in without
    ]
    return sorted(fields, key=lambda field: not field.primary_key)


def values_of(row: Model) -> tuple[Any, ...]:
    """What a loaded row says; columns that were not loaded are left out."""
    loaded = row.__dict__
    names = (field.attname for field in columns_of(type(row)))
    return (row._meta.label, *((name, loaded[name]) for name in names if name in loaded))


def digests_of(*, organisation: Organisation) -> dict[str, bytes]:
    """By label of the table, of its rows and those of its neighbours; and of the names of people and organisations."""
    return contents_of(organisation=organisation)[0]


def contents_of(*, organisation: Organisation) -> tuple[dict[str, bytes], int]:
    """As ``digests_of``, and how many rows were read for it. Read once, as long as nobody writes anything at all."""
    wrapper = connections[connection.alias]
    mark = _nothing_was_written_since(wrapper)
    if mark is None:
        return _read(organisation)
    of_mark, found = _as_read.get(wrapper, (None, {}))
    if of_mark != mark:
        # The mark is older than what is read now; what was written in between changes it.
        found = {}
        _as_read[wrapper] = (mark, found)
    if organisation.pk not in found:
        found[organisation.pk] = _read(organisation)
    return found[organisation.pk]


#: Of each connection, so of each thread: what was read, by organisation, and the mark under which it stands.
_as_read: WeakKeyDictionary[BaseDatabaseWrapper, tuple[tuple[Any, ...], dict[int, tuple[dict[str, bytes], int]]]] = (
    WeakKeyDictionary()
)


def _nothing_was_written_since(wrapper: BaseDatabaseWrapper) -> tuple[Any, ...] | None:
    """Two that are the same say that the connection sees the very same rows; None where that is not certain.

    Within a transaction it is not: what it wrote may be rolled back. SQLite tells what other connections stored, and
    its driver what this one did; equal snapshots of PostgreSQL see what the same transactions stored.
    """
    if wrapper.in_atomic_block:
        return None
    with wrapper.cursor() as cursor:
        if wrapper.vendor == "postgresql":
            cursor.execute("SELECT pg_current_snapshot()::text")
            return (wrapper.connection, *cursor.fetchone())
        cursor.execute("PRAGMA data_version")
        return (wrapper.connection, *cursor.fetchone(), wrapper.connection.total_changes)


def _read(organisation: Organisation) -> tuple[dict[str, bytes], int]:
    neighbours = {key for _, keys in asking_neighbours.send(Organisation, organisation=organisation) for key in keys}
    keys = sorted({organisation.pk, *neighbours})
    with connection.cursor() as cursor:
        labels, sql, times = _statement(connection.vendor, len(keys))
        cursor.execute(sql, keys * times)
        texts = {at: (text or "", rows) for at, text, rows in cursor.fetchall()}
    digests = {label: blake2b(texts[at][0].encode(), digest_size=16).digest() for at, label in enumerate(labels)}
    return digests, sum(rows for _, rows in texts.values())


@cache
def _statement(vendor: str, count: int) -> tuple[list[str], str, int]:
    """Labels of tables, a row each; and how many times it takes the keys of so many organisations."""
    parts = {model._meta.label: sql_of(model, vendor, count) for model in models_read()}
    everybody = {
        f"names of {model._meta.label}": _whole(
            vendor, model._base_manager.all(), [model._meta.get_field(name) for name in names]
        )
        for model, names in NAMES.items()
    }
    # A row says of which table it is: a database may give them in any order.
    numbered = [one.replace("SELECT ", f"SELECT {at}, ", 1) for at, one in enumerate((parts | everybody).values())]
    return [*parts, *everybody], " UNION ALL ".join(numbered), len(parts)


def sql_of(model: type[Model], vendor: str, count: int = 1) -> str:
    """A text of all its rows, in the order of their keys, and how many were read; takes keys of organisations."""
    rows = model._base_manager.filter(**{f"{way_to_organisation(model)}__in": range(count)})
    return _grown(model, rows) if model._meta.label in GROWING else _whole(vendor, rows, columns_of(model))


def _sql(rows: Any, *columns: str) -> str:
    return rows.values_list(*columns).query.sql_with_params()[0]


def _grown(model: type[Model], rows: Any) -> str:
    inner = _sql(rows.order_by(), model._meta.pk.attname)
    key = f"r.{model._meta.pk.attname}"
    # The sum tells of one that came late while another went.
    told = (f"COALESCE(CAST({found} AS text), '')" for found in ("COUNT(*)", f"MAX({key})", f"SUM({key})"))
    return "SELECT " + " || ' ' || ".join(told) + f", 0 FROM ({inner}) r"


def _whole(vendor: str, rows: Any, fields: list[Any]) -> str:
    names = [f"r.{field.attname}" for field in fields]
    inner = _sql(rows.order_by("pk"), *(field.attname for field in fields))
    if vendor == "postgresql":
        return f"SELECT md5(string_agg(r::text, chr(10) ORDER BY {names[0]})), COUNT(*) FROM ({inner}) r"
    arrays = [f"json_array({', '.join(names[at : at + _ARGUMENTS])})" for at in range(0, len(names), _ARGUMENTS)]
    return f"SELECT json_group_array(json_array({', '.join(arrays)})), COUNT(*) FROM ({inner}) r"
