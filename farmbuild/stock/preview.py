"""Rows of a draft as they stand on the preview: what was understood, or what was typed and why it is not right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.common.money import format_amount
from farmbuild.common.templatetags.farm import day, length
from farmbuild.measure import amounts_shown, format_count
from farmbuild.orgs.models import Organisation

#: Field and heading of each column of the preview.
COLUMNS = (
    ("material", "Material"),
    ("length", "Length of one"),
    ("quantity", "Quantity"),
    ("place", "Place"),
    ("cost", "Cost of one"),
    ("supplier", "Supplier"),
    ("owner", "Owner"),
    ("received", "Received on"),
    ("reference", "Reference"),
)
FIGURES = frozenset({"length", "quantity", "cost"})
_ALL_HEADINGS = dict(COLUMNS) | {"site": "Site", "offcut": "Offcut"}


@dataclass(frozen=True)
class PreviewCell:
    heading: str
    text: Any
    wrong: bool
    figure: bool


@dataclass(frozen=True)
class PreviewRow:
    """``problems`` and ``questions``: heading of the column and sentence."""

    number: int
    cells: list[PreviewCell]
    problems: list[tuple[str, str]]
    questions: list[tuple[str, str]]


def columns() -> tuple[tuple[str, str], ...]:
    """Of this reader: one who sees no costs has no column of them."""
    return tuple(column for column in COLUMNS if column[0] != "cost" or amounts_shown())


def preview_rows(rows: Iterable[dict[str, Any]], *, organisation: Organisation) -> list[PreviewRow]:
    return [_preview_row(row, organisation) for row in rows]


def _preview_row(row: dict[str, Any], organisation: Organisation) -> PreviewRow:
    shown = _understood(row, organisation)
    cells = [
        PreviewCell(
            heading,
            row["typed"].get(name, shown[name]) if name in row["problems"] else shown[name],
            name in row["problems"],
            name in FIGURES,
        )
        for name, heading in columns()
    ]
    # A draft of before questions were asked has none.
    said = (
        [(_ALL_HEADINGS[name], text) for name, text in row.get(kind, {}).items()] for kind in ("problems", "questions")
    )
    return PreviewRow(row["row"], cells, *said)


def _understood(row: dict[str, Any], organisation: Organisation) -> dict[str, Any]:
    place = f"{row['place']}, {row['site']}" if row["site"] else row["place"]
    return {
        "material": f"{row['name']} (offcut)" if row["offcut"] else row["name"],
        "length": length(Decimal(row["length"]), organisation) if row["length"] else "",
        "quantity": format_count(row["quantity"]) if row["quantity"] else "",
        "place": f"{place} (new place)" if row["new_place"] else place,
        "cost": format_amount(Decimal(row["cost"]), organisation.currency) if row["cost"] else "",
        "supplier": row["supplier"],
        "owner": row.get("owner", ""),
        "received": day(date.fromisoformat(row["received"])) if row["received"] else "",
        "reference": row["reference"] or "next number",
    }
