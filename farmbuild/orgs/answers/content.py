"""What the rows of an organisation say, a digest a table: what is worked out of them stands as long as these do.

By content, not by marks or times: whatever changes a row changes the digest, however it was written, and what was
rolled back leaves it as it was. One query, in which the database reads the rows and puts them together.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cache, lru_cache
from hashlib import blake2b
from typing import Any
from weakref import WeakKeyDictionary

from django.apps import apps
from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BinaryField, Field, ForeignKey, Model

from farmbuild.orgs.answers.reading import unwatched
from farmbuild.orgs.models import Organisation, User
from farmbuild.orgs.signals import asking_neighbours

#: Apps of whose rows nothing kept is worked out, and why; tests hold the pages to that.
LEFT_OUT_APPS: Mapping[str, str] = {
    "access": "who signs in, and how",
    "api": "what other programs ask",
    "common": "forms that were sent",
    "moving": "exports",
    "projects": "a file that is half read in",
}
#: Apps whose rows are read for what is seen to be worked out of them, and why for nothing else.
ASKED_FOR_APPS: Mapping[str, str] = {
    "costs": "what work and trips come to, on pages of its own",
    "history": "what was told of the rows, not what they are",
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
    # Nothing of it but its state ever changes.
    "quotes.QuoteVersion": {"shown"},
}
#: Rows that the database never lets change, so that which of them there are tells of all.
GROWING = frozenset({"crew.Actual", "history.Entry", "stock.Movement"})
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
        if model._meta.app_label not in LEFT_OUT_APPS
        and model._meta.label not in LEFT_OUT
        and way_to_organisation(model)
    )


def names_of(model: type[Model]) -> str:
    """The label under which the names of all of them are told."""
    return f"names of {model._meta.label}"


@cache
def told() -> frozenset[str]:
    """Labels of all that digests are made of."""
    return frozenset({*(model._meta.label for model in models_read()), *map(names_of, NAMES)})


@cache
def usual() -> tuple[str, ...]:
    """Those that are read for whatever is not seen to be worked out of others."""
    asked_for = (
        model._meta.label
        for model in models_read()
        if model._meta.app_label in ASKED_FOR_APPS and model._meta.label not in READ_ALL_THE_SAME
    )
    return tuple(sorted(told().difference(asked_for)))


def standing_for(labels: Collection[str]) -> frozenset[str] | None:
    """What digests tell of these tables; None where they do not tell of one."""
    known, by_names = told(), {model._meta.label: names_of(model) for model in NAMES}
    found = {label for label in labels if label in known} | {by_names[label] for label in labels if label in by_names}
    return frozenset(found) if all(label in known or label in by_names for label in labels) else None


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
    """What a loaded row says, with the rows that it was loaded with; columns that were not loaded are left out."""
    loaded = row.__dict__
    # Of somebody else a page tells the name, never how they sign in.
    names = NAMES[User] if type(row) is User else (field.attname for field in columns_of(type(row)))
    own = tuple((name, loaded[name]) for name in names if name in loaded)
    beside = row._state.fields_cache
    others = ((name, beside[name]) for name in _leads_to(type(row)) if isinstance(beside.get(name), Model))
    return (row._meta.label, *own, *((name, values_of(other)) for name, other in others))


@cache
def _leads_to(model: type[Model]) -> tuple[str, ...]:
    return tuple(field.name for field in model._meta.concrete_fields if isinstance(field, ForeignKey))


def digests_of(*, organisation: Organisation, labels: Collection[str] | None = None) -> dict[str, bytes]:
    """By label of the table, of its rows and those of its neighbours; and of the names of people and organisations."""
    return contents_of(organisation=organisation, labels=labels)[0]


def contents_of(*, organisation: Organisation, labels: Collection[str] | None = None) -> tuple[dict[str, bytes], int]:
    """As ``digests_of``, and how many rows were read for it. Read once, as long as nobody writes anything at all."""
    wanted = usual() if labels is None else sorted(labels)
    with unwatched():
        wrapper = connections[connection.alias]
        mark = _nothing_was_written_since(wrapper)
        of_mark, found = _as_read.get(wrapper, (None, {}))
        if mark is None or of_mark != mark:
            # The mark is older than what is read now; what was written in between changes it.
            found = {}
        of_organisation = found.setdefault(organisation.pk, {})
        if missing := tuple(label for label in wanted if label not in of_organisation):
            of_organisation |= _read(organisation, missing)
        if mark is not None:
            _as_read[wrapper] = (mark, found)
    digests = {label: of_organisation[label][0] for label in wanted}
    return digests, sum(of_organisation[label][1] for label in wanted)


#: The digest of a table, and how many rows were read for it, by label.
_Tables = dict[str, tuple[bytes, int]]
#: Of each connection, so of each thread: what was read, by organisation, and the mark under which it stands.
_as_read: WeakKeyDictionary[BaseDatabaseWrapper, tuple[tuple[Any, ...], dict[int, _Tables]]] = WeakKeyDictionary()


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


def _read(organisation: Organisation, labels: tuple[str, ...]) -> _Tables:
    neighbours = {key for _, keys in asking_neighbours.send(Organisation, organisation=organisation) for key in keys}
    keys = sorted({organisation.pk, *neighbours})
    with connection.cursor() as cursor:
        sql, times = _statement(connection.vendor, len(keys), labels)
        cursor.execute(sql, keys * times)
        texts = {at: (text or "", rows) for at, text, rows in cursor.fetchall()}
    return {
        label: (blake2b(texts[at][0].encode(), digest_size=16).digest(), texts[at][1])
        for at, label in enumerate(labels)
    }


@lru_cache(maxsize=256)
def _statement(vendor: str, count: int, labels: tuple[str, ...]) -> tuple[str, int]:
    """A row for each label; and how many times it takes the keys of so many organisations."""
    models = {model._meta.label: model for model in models_read()}
    everybody = {names_of(model): (model, names) for model, names in NAMES.items()}

    def part(label: str) -> str:
        if label in models:
            return sql_of(models[label], vendor, count)
        model, names = everybody[label]
        return _whole(vendor, model._base_manager.all(), [model._meta.get_field(name) for name in names])

    # A row says of which table it is: a database may give them in any order.
    numbered = [part(label).replace("SELECT ", f"SELECT {at}, ", 1) for at, label in enumerate(labels)]
    return " UNION ALL ".join(numbered), sum(label in models for label in labels)


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
