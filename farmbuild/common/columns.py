"""What a column of a query is told apart by, without asking Python for the signature of its class each time.

To find what it sorts by, Django (5.2) asks this of every column of every query, and houses with their materials have
hundreds: it was a tenth of most pages. What is answered is the same; ``tests/common/test_columns.py`` compares.
"""

from __future__ import annotations

from typing import Any

from django.db.models.expressions import Col, Expression
from django.utils.functional import cached_property

_DJANGOS = Expression.identity.func


def _identity(column: Col) -> tuple[Any, ...]:
    args, kwargs = column._constructor_args
    if kwargs or type(column) is not Col:
        return _DJANGOS(column)
    alias, target, output = (*args, None)[:3]
    name = _name_of(target)
    return (
        Col,
        ("alias", alias),
        ("target", name),
        ("output_field", None if output is None else name if output is target else _name_of(output)),
    )


def _name_of(field: Any) -> Any:
    if field.name and field.model:
        return field.model._meta.label, field.name
    return type(field)


def use_quick_columns() -> None:
    quick = cached_property(_identity)
    quick.__set_name__(Col, "identity")
    Col.identity = quick
