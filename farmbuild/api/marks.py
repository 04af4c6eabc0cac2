"""Lists by a mark: so many rows after the one that the mark names, by key, so that no row is skipped or told twice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Annotated, Any

from django.db.models import QuerySet
from ninja import Field, Query, Schema
from pydantic import StringConstraints, create_model

MOST, USUAL = 200, 50
Mark = Annotated[str, StringConstraints(pattern=r"^[0-9]{1,15}$")]


class Asked(Schema):
    """Which part of a list."""

    after: Mark | None = Field(None, description="The mark that the part before gave as `next`; none: from the start.")
    limit: int = Field(USUAL, ge=1, le=MOST, description="How many rows at most.")


Part = Query[Asked]


@cache
def listed(answer: type[Schema]) -> type[Schema]:
    """A part of a list of these, and the mark of the part that follows."""
    name = f"{answer.__name__.removesuffix('Out')}List"
    after = Field(..., description="Send it as `after` for what follows; none: that was all.")
    return create_model(name, __base__=Schema, items=(list[answer], ...), next=(Mark | None, after))


def part(rows: QuerySet, asked: Asked, answer: Callable[[Any], Any]) -> dict[str, Any]:
    """``{"items": …, "next": mark or None}``; one query and those of the row's own prefetches."""
    rows = rows.order_by("pk")
    if asked.after is not None:
        rows = rows.filter(pk__gt=int(asked.after))
    found = list(rows[: asked.limit + 1])
    some = found[: asked.limit]
    return {
        "items": [answer(row) for row in some],
        "next": str(some[-1].pk) if len(found) > asked.limit else None,
    }


def part_of_list(rows: Sequence[Any], asked: Asked, answer: Callable[[Any], Any]) -> dict[str, Any]:
    """Of what is stored whole; the mark is how many came before."""
    start = int(asked.after or 0)
    end = start + asked.limit
    return {
        "items": [answer(row) for row in rows[start:end]],
        "next": str(end) if end < len(rows) else None,
    }
