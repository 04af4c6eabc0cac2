"""Rows of an organisation as they stand in its export: one object a row, keys as they are where it was made."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from typing import Any

from django.db.models import BinaryField, ForeignKey, Model

from farmbuild.common.long_work import State
from farmbuild.moving.keys import Key, rewritten
from farmbuild.moving.ownership import USER, file_columns, rows_of
from farmbuild.moving.values import packed

#: Rows read at once; those with files one by one.
_AT_ONCE = 500
#: Columns that name rows of other organisations, which do not go along.
OF_OTHERS = frozenset({"coop.CommonWish.farm_lot", "coop.CommonWish.plan", "coop.CommonWish.house"})
_KINDS = ((b"\xff\xd8", "jpg"), (b"\x89PNG", "png"), (b"%PDF", "pdf"), (b"PK", "xlsx"))
#: What is told of the bytes of a column: the row's key, the column, the bytes.
Filed = Callable[[str, bytes], None]


def told_rows(model: type[Model], organisation: int, key: Key, filed: Filed | None = None) -> Iterator[dict[str, Any]]:
    """``key`` gives the keys that the rows have in the export. ``filed`` takes the bytes of each file by its path."""
    fields = model._meta.concrete_fields
    label = model._meta.label
    rows = rows_of(model, organisation).values_list(*(field.attname for field in fields))
    for values in rows.iterator(chunk_size=1 if file_columns(model) else _AT_ONCE):
        row = {
            field.name: value if isinstance(field, BinaryField) else packed(field, value)
            for field, value in zip(fields, values, strict=True)
        }
        yield _told(model, label, row, key, filed)


def _told(model: type[Model], label: str, row: dict[str, Any], key: Key, filed: Filed | None) -> dict[str, Any]:
    for field in model._meta.concrete_fields:
        value = row[field.name]
        if value is None:
            continue
        if f"{label}.{field.name}" in OF_OTHERS:
            row[field.name] = None
        elif isinstance(field, ForeignKey):
            row[field.name] = key(field.related_model._meta.label, value)
        elif field.primary_key:
            row[field.name] = key(label, value)
    row = as_it_goes(label, rewritten(label, row, key))
    for field in file_columns(model):
        if row[field.name] is not None:
            row[field.name] = _file(label, row, field.name, bytes(row[field.name]), filed)
    return row


def _file(label: str, row: dict[str, Any], column: str, data: bytes, filed: Filed | None) -> dict[str, Any]:
    end = next((end for begins, end in _KINDS if data.startswith(begins)), "bin")
    path = f"files/{label}/{row['id']}-{column}.{end}"
    if filed:
        filed(path, data)
    return {"file": path, "size": len(data), "sha256": hashlib.sha256(data).hexdigest()}


def as_it_goes(label: str, row: dict[str, Any]) -> dict[str, Any]:
    """Without what lets somebody in, and without the worker that may be at it."""
    if label == "quotes.QuoteLink":
        # The address that was sent leads to the old server; here it is one that has ended.
        return row | {"digest": "", "ended_at": row["ended_at"] or row["made_at"]}
    if "worker" in row:
        state = State.WAITING if row["state"] == State.WORKING else row["state"]
        return row | {"worker": "", "begun": 0, "state": str(state)}
    return row


def person_columns(model: type[Model]) -> list[str]:
    return [
        field.name
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey) and field.related_model._meta.label == USER
    ]
