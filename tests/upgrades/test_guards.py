"""Every guard of the database stands by name in ``guards.txt``, so that none comes or goes unread."""

from __future__ import annotations

import pytest
from django.db import connection

from farmbuild.common.doctor.examining import GUARDS
from farmbuild.common.doctor.schema import guards

DATABASES = ("sqlite", "postgresql")


def read(vendor: str) -> list[str]:
    """A line a guard: its table, its kind, its name or columns; before them the database, where only one has it."""
    lines = [line for line in GUARDS.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    other = next(name for name in DATABASES if name != vendor)
    return [line.removeprefix(f"{vendor}: ") for line in lines if not line.startswith(f"{other}: ")]


@pytest.mark.django_db
def test_the_guards_are_those_of_the_table():
    named, found = read(connection.vendor), guards()
    assert sorted(found - set(named)) == [], "in the database, not in guards.txt"
    assert sorted(set(named) - found) == [], "in guards.txt, not in the database"


def test_the_table_is_in_order_and_names_a_guard_once():
    for vendor in DATABASES:
        assert read(vendor) == sorted(set(read(vendor)))
