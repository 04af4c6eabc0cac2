"""Decimals read from SQLite are those that Django itself reads."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.db import connection, models
from django.db.backends.sqlite3.operations import DatabaseOperations as Django
from django.db.models.expressions import Col
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.sqlite.operations import DatabaseOperations


def read(ops: Django, field: models.DecimalField, value: object) -> object:
    column = Col("t", field)
    try:
        return ops.get_decimalfield_converter(column)(value, column, connection)
    except InvalidOperation:
        return "too long"


@given(
    st.one_of(st.none(), st.integers(-(10**9), 10**9), st.floats(allow_nan=False, allow_infinity=False)),
    st.integers(1, 20),
    st.integers(0, 8),
)
def test_as_django_reads_them(value: object, digits: int, places: int) -> None:
    field = models.DecimalField(max_digits=digits, decimal_places=places)
    found = read(DatabaseOperations(connection), field, value)
    plain = read(Django(connection), field, value)
    assert repr(found) == repr(plain)


def test_a_float_loses_what_it_added() -> None:
    field = models.DecimalField(max_digits=12, decimal_places=6)
    assert repr(read(DatabaseOperations(connection), field, 0.1 + 0.2)) == repr(Decimal("0.300000"))
