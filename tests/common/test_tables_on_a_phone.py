"""Rows of tables on a phone: every table says which of its columns the two lines hold."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from decimal import Decimal

import django_tables2 as tables
import pytest

import farmbuild
from farmbuild.common.tables import BELOW, DayColumn, FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from tests.common.test_tables import Cells
from tests.factories import OrganisationFactory

#: Most that the second line of a row that leads on is given; what finds no room there is left to the row's page.
MOST_BELOW = BELOW + 1
#: Words before a value, so that the value has room.
MOST_WORDS = 20


def all_tables() -> Iterator[type[FarmTable]]:
    for found in pkgutil.walk_packages(farmbuild.__path__, "farmbuild."):
        if ".migrations" not in found.name and not found.name.startswith("farmbuild.wsgi"):
            importlib.import_module(found.name)
    todo = [FarmTable]
    while todo:
        for kind in todo.pop().__subclasses__():
            todo.append(kind)
            # What several tables have in common has no columns of its own.
            if kind.__module__.startswith("farmbuild.") and kind.base_columns:
                yield kind


TABLES = sorted(set(all_tables()), key=lambda kind: (kind.__module__, kind.__name__))


def places(kind: type[FarmTable]) -> dict[str, str]:
    """As ``phone_places`` has it, of a table without rows or the details that one is made with."""
    table = kind.__new__(kind)
    columns = {name: tables.columns.BoundColumn(table, column, name) for name, column in kind.base_columns.items()}
    table.columns = type("Columns", (dict,), {"__iter__": lambda self: iter(self.values())})(columns)
    return table.phone_places()


def test_the_tables_are_found():
    assert len(TABLES) > 50


@pytest.mark.parametrize(
    "kind", TABLES, ids=lambda kind: f"{kind.__module__.removeprefix('farmbuild.')}.{kind.__name__}"
)
def test_a_row_of_every_table_has_two_lines(kind):
    found = list(places(kind).values())
    below = [place for place in found if place.isdigit()]
    assert found.count("name") == 1
    assert found.count("figure") <= 1
    assert len(set(below)) == len(below)
    if kind.leads_on():
        assert len(below) <= MOST_BELOW
    else:
        # Nothing is left out where there is no other page to say it.
        assert "away" not in found


@pytest.mark.parametrize(
    "kind",
    [kind for kind in TABLES if kind.phone],
    ids=lambda kind: f"{kind.__module__.split('.')[-2]}.{kind.__name__}",
)
def test_what_a_table_names_is_a_column_of_it(kind):
    """A column of a table that another takes over may be excluded there."""
    known = set().union(*(getattr(parent, "base_columns", ()) for parent in kind.__mro__))
    first, below = kind.phone
    named = [*first, *below]
    assert len(first) in (1, 2)
    assert len(set(named)) == len(named)
    assert set(named) | set(kind.phone_words) | set(kind.phone_quiet) <= known
    assert all(len(words) <= MOST_WORDS for words in kind.phone_words.values())


class Lots(FarmTable):
    name = tables.Column("Material")
    length = LengthColumn("Length")
    on_hand = QuantityColumn("On hand", unit="sticks", total=True)
    value = MoneyColumn("Value")
    needed = DayColumn("Needed by")
    note = tables.Column("Note", default="none")
    held = QuantityColumn("Held")

    phone_quiet = ("held",)


class LinkedLots(Lots):
    def row_link(self, record):
        return f"/stock/{record['name']}/"


ROW = {
    "name": "rail",
    "length": Decimal(3048),
    "on_hand": 3,
    "value": Decimal(10),
    "needed": None,
    "note": "",
    "held": 0,
}


def cells_of(kind, **changes):
    [(_, _, cells)] = kind([ROW | changes], organisation=OrganisationFactory.build()).body
    found = Cells(f"<table><tr>{cells}</tr></table>")
    return dict(zip(kind.base_columns, [got for name, got, _ in found.found if name in ("th", "td")], strict=True))


def test_a_table_that_says_nothing_has_its_first_column_its_first_count_and_the_next_three():
    assert {name: got["data-at"] for name, got in cells_of(LinkedLots).items()} == {
        "name": "name", "on_hand": "figure", "length": "1", "value": "2", "needed": "3", "note": "away", "held": "away",
    }  # fmt: skip


def test_where_no_page_says_the_rest_the_row_says_it():
    found = cells_of(Lots)
    assert [found[name]["data-at"] for name in ("note", "held")] == ["4", "5"]


def test_figures_and_days_say_what_they_are_and_words_speak_for_themselves():
    found = cells_of(Lots)
    labels = {name: got.get("data-label") for name, got in found.items()}
    assert labels == {
        "name": None, "length": "Length", "on_hand": "On hand", "value": "Value", "needed": "Needed by", "note": None,
        "held": "Held",
    }  # fmt: skip
    assert {name: got["data-unit"] for name, got in found.items() if "data-unit" in got} == {
        "on_hand": "sticks", "value": "USD",
    }  # fmt: skip


def test_what_is_empty_or_quietly_none_takes_no_line():
    empty = {name for name, got in cells_of(Lots).items() if "data-empty" in got}
    assert empty == {"needed", "note", "held"}
    assert "data-empty" not in cells_of(Lots, held=2)["held"]
