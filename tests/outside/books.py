"""A project as typed, put into the empty workbook by its headings, and the files that come back."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.core.management import call_command
from openpyxl import load_workbook

from tests.outside.rows import House, Stuff, Typed, stuff
from tests.outside.typed import IMPERIAL

#: Headings of the sheets beside Houses and Recipes, by the name that is used here.
HEADINGS = {
    "Sites": {"code": "Site", "name": "Name"},
    "Materials": {
        "code": "Material",
        "name": "Name",
        "kind": "Kind",
        "width": "Width or outside diameter",
        "thickness": "Thickness or wall",
        "swaged": "One end swaged",
        "tax_percent": "Tax, percent",
    },
    "Own rows": {
        "house": "House",
        "material": "Material",
        "quantity": "Quantity",
        "per": "For each",
        "length": "Length of each piece",
        "step": "Used in",
    },
    "Suppliers": {
        "code": "Supplier",
        "name": "Name",
        "delivery_charge": "Delivery charge",
        "free_delivery_from": "Delivery free from",
        "minimum_order": "Smallest order",
    },
    "Offers": {
        "ref": "Offer",
        "supplier": "Supplier",
        "material": "Material",
        "length": "Length of one",
        "pack": "Pieces in a pack",
        "lead_days": "Days to deliver",
        "valid_until": "Good until",
        "from_1": "From quantity",
        "price_1": "Price of one",
        "from_2": "From quantity 2",
        "price_2": "Price of one 2",
        "from_3": "From quantity 3",
        "price_3": "Price of one 3",
    },
    "Stock": {
        "ref": "Lot",
        "material": "Material",
        "length": "Length of one",
        "quantity": "Quantity",
        "unit_cost": "Cost of one",
        "place": "Place",
        "offcut": "Offcut",
        "site": "Site",
    },
}


@dataclass(frozen=True)
class Project:
    """All that one workbook says, as typed. Houses name their recipe, materials and site by code."""

    units: str
    answers: Mapping[str, str]
    materials: Mapping[str, Typed]
    recipes: Mapping[str, Typed]
    houses: Mapping[str, Typed]
    suppliers: Mapping[str, Typed] = field(default_factory=dict)
    offers: Mapping[str, Typed] = field(default_factory=dict)
    stock: Mapping[str, Typed] = field(default_factory=dict)
    #: Rows of their own, by house.
    own: Mapping[str, Sequence[Typed]] = field(default_factory=dict)

    @property
    def stuff(self) -> dict[str, Stuff]:
        return {code: stuff(row, self.units) for code, row in self.materials.items()}

    def house(self, ref: str) -> House:
        typed = self.houses[ref]
        return House(typed, self.recipes[typed["recipe"]], self.stuff, self.units, self.own.get(ref, ()))


def fill(project: Project, template: bytes, headings: Mapping[str, Mapping[str, str]]) -> bytes:
    """The workbook as a person would fill it in; ``headings`` of Houses and Recipes by field."""
    book = load_workbook(io.BytesIO(template))
    answers = {"units": project.units} | dict(project.answers)
    for row in book["Project"].iter_rows(min_row=4):
        what = _plain(row[0].value)
        if what in ANSWERS and ANSWERS[what] in answers:
            row[1].value = answers[ANSWERS[what]]
    site = {"north": {"name": "North Field"}}
    for title, key, rows in (
        ("Sites", "code", site),
        ("Materials", "code", project.materials),
        ("Recipes", "name", project.recipes),
        ("Houses", "ref", project.houses),
        ("Suppliers", "code", project.suppliers),
        ("Offers", "ref", project.offers),
        ("Stock", "ref", project.stock),
    ):
        typed = ({key: code} | dict(row) for code, row in rows.items())
        _fill(book[title], HEADINGS.get(title) or headings[title], typed)
    own = ({"house": ref} | dict(row) for ref, rows in project.own.items() for row in rows)
    _fill(book["Own rows"], HEADINGS["Own rows"], own)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


ANSWERS = {
    "your name": "name",
    "units": "units",
    "decimal sign": "decimal_sign",
    "currency": "currency",
    "name of the tax": "tax_name",
    "tax, percent": "tax_percent",
    "supplier prices": "prices",
    "deliver to": "delivery_site",
    "plan as of": "as_of",
    "saw cut": "kerf",
    "shortest offcut to keep": "keep_from",
}


def _plain(text: object) -> str:
    return str(text or "").casefold().rstrip(" *")


def _fill(sheet: Any, headings: Mapping[str, str], rows: Iterable[Typed]) -> None:
    columns = {_plain(cell.value): cell.column for cell in sheet[3]}
    at = 4
    while sheet.cell(at, 1).value:
        at += 1  # Below the example.
    for row in rows:
        for name, typed in row.items():
            if typed != "":
                sheet.cell(at, columns[_plain(headings[name])]).value = typed
        at += 1


def planned(project: Project, headings: Mapping[str, Mapping[str, str]], folder: Path) -> dict[str, Any]:
    """What the command ``plan`` writes into ``folder``; gives its plan.json."""
    template, filled, out = folder / "template.xlsx", folder / "project.xlsx", folder / "out"
    call_command("project_template", str(template), stdout=io.StringIO())
    filled.write_bytes(fill(project, template.read_bytes(), headings))
    call_command("plan", str(filled), "--out", str(out), stdout=io.StringIO(), stderr=io.StringIO())
    return dict(json.loads((out / "plan.json").read_text())["plan"])


def is_imperial(project: Project) -> bool:
    return project.units == IMPERIAL


def order_files(folder: Path) -> list[Path]:
    return sorted(path for path in (folder / "out").iterdir() if re.match(r"order-.*\.xlsx", path.name))


def read(filled: bytes, headings: Mapping[str, Mapping[str, str]]) -> Project:
    """A filled workbook as it was typed."""
    book = load_workbook(io.BytesIO(filled), data_only=True)
    answers = {_plain(row[0].value): _typed(row[1].value) for row in book["Project"].iter_rows(min_row=4)}
    told = {ANSWERS[what]: typed for what, typed in answers.items() if what in ANSWERS and typed}
    tables = {title: _read(book[title], names) for title, names in (HEADINGS | dict(headings)).items()}
    own: dict[str, list[Typed]] = {}
    for row in tables["Own rows"]:
        own.setdefault(row["house"], []).append(row)
    return Project(
        units := told.pop("units"),
        {"kerf": '1/8"' if units == IMPERIAL else "3 mm", "tax_percent": "0"} | told,
        *(_keyed(tables[title]) for title in ("Materials", "Recipes", "Houses", "Suppliers", "Offers", "Stock")),
        own,
    )


def _keyed(rows: Iterable[Typed]) -> dict[str, Typed]:
    """By what stands in their first column."""
    found = {}
    for row in rows:
        first, *rest = row
        found[row[first]] = {name: row[name] for name in rest}
    return found


def _read(sheet: Any, headings: Mapping[str, str]) -> list[Typed]:
    """What was typed in each row, without the example and what is empty."""
    columns = {_plain(cell.value): cell.column - 1 for cell in sheet[3]}
    found = []
    for row in sheet.iter_rows(min_row=4):
        typed = {name: _typed(row[columns[_plain(heading)]].value) for name, heading in headings.items()}
        if any(typed.values()) and "example" not in _typed(row[0].value):
            found.append({name: text for name, text in typed.items() if text})
    return found


def _typed(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if hasattr(value, "date"):
        return value.date().isoformat()
    return "" if value is None else str(value).strip()
