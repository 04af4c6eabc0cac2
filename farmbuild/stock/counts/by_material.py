"""Counting a place of which nothing is in stock yet: every material in use, an empty box for each length."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext

from farmbuild.catalogue.fields import CountField, MoneyField
from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.common.lengths import length_text
from farmbuild.measure.senses import OFFCUT, PIECES
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.bridge import units_of
from farmbuild.stock.counts.services import record_find
from farmbuild.stock.models import CountFind, Place, StockCount
from farmbuild.stock.yard.known import Known, Price, known_of

#: Rows of all sheets.
MOST = 200
#: Rows of one sheet: as many as five screens of a phone hold.
ROWS = 18
#: A length by which prices of pieces are compared where none is said, mm.
_ANY = Decimal(1000)


@dataclass(frozen=True)
class Counted:
    """So many pieces that are in no lot, with what one of them is worth."""

    material: Material
    length: Decimal | None
    quantity: int
    unit_cost: Decimal


@dataclass(frozen=True)
class SheetRow:
    """``open``: it comes by length, and which one is typed beside it. ``best`` is None where nothing tells a price."""

    material: Material
    length: Decimal | None
    open: bool
    best: Price | None

    @property
    def key(self) -> str:
        return f"{self.material.pk}_{'any' if self.open else self.length.normalize() if self.length else 'piece'}"


def rows_of(*, organisation: Organisation) -> list[SheetRow]:
    """Materials that are sold to the farm, bent or in stock; all in use where none is. Five queries."""
    known = known_of(organisation=organisation, today=today_of(organisation=organisation))
    used = [named for named in known.named if named.used] or known.named
    return [row for named in used for row in _rows(known, known.materials[named.pk])][:MOST]


def _rows(known: Known, material: Material) -> Iterator[SheetRow]:
    def row(length: Decimal | None, *, is_open: bool = False) -> SheetRow:
        return SheetRow(material, length, is_open, known.best_price(material.pk, _ANY if is_open else length))

    if not material.by_length:
        yield row(None)
        return
    for length in sorted(known.lengths.get(material.pk, ())):
        yield row(length)
    yield row(None, is_open=True)


@dataclass(frozen=True)
class Sheet:
    """Materials of one kind, or a part of them."""

    number: int
    name: str
    rows: list[SheetRow]


def sheets_of(rows: Sequence[SheetRow]) -> list[Sheet]:
    """A sheet a kind of material in the order of kinds, more where a kind has too many rows for one."""
    found: list[Sheet] = []
    for kind in Material.Kind:
        some = [row for row in rows if row.material.kind == kind]
        parts = [some[start : start + ROWS] for start in range(0, len(some), ROWS)]
        for number, part in enumerate(parts, 1):
            name = f"{kind.label} ({number} of {len(parts)})" if len(parts) > 1 else str(kind.label)
            found.append(Sheet(len(found) + 1, name, part))
    return found


@needs(Act.STOCK)
@transaction.atomic
def record_finds(
    *, organisation: Organisation, user: User | None, count: StockCount, place: Place, counted: Sequence[Counted]
) -> list[CountFind]:
    """All of them are written down, or none. Raises ValidationError."""
    return [
        record_find(
            organisation=organisation,
            user=user,
            count=count,
            place=place,
            material=row.material,
            quantity=row.quantity,
            length=row.length,
            unit_cost=row.unit_cost,
        )
        for row in counted
    ]


class MaterialsForm(OrgForm):
    """Boxes for pieces, for the length where none is known, and for the value where nothing tells it.

    It shows the sheet asked for, and takes whatever box of any sheet is sent.
    """

    def __init__(self, *args: Any, asked: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = rows_of(organisation=self.organisation)
        self.sheets = sheets_of(self.rows)
        self.sheet = self.sheets[self.number(asked) - 1] if self.sheets else Sheet(1, "", [])
        self.system = units_of(self.organisation)
        for row in self.rows:
            box = CountField(label=gettext("Pieces of %(row)s") % {"row": self.words(row)}, least=0, required=False)
            box.widget.attrs |= {"data-count-box": ""}
            self.fields[f"pieces_{row.key}"] = box
            if row.open:
                length = LengthFormField(
                    label=gettext("Length of one piece of %(material)s") % {"material": row.material}, required=False
                )
                length.cut_of = row.material.kind
                length.sense = PIECES.get(row.material.kind, OFFCUT)
                length.use_system(self.system)
                self.fields[f"length_{row.key}"] = length
            if row.best is None:
                value = MoneyField(label=gettext("Value of one"), required=False)
                value.use_organisation(self.organisation)
                self.fields[f"value_{row.key}"] = value

    def number(self, asked: str) -> int:
        """The number of the sheet asked for, or of the nearest one."""
        return min(max(int(asked), 1), len(self.sheets)) if asked.isdecimal() and len(asked) < 4 else 1

    @property
    def following(self) -> Sheet | None:
        return self.sheets[self.sheet.number] if self.sheet.number < len(self.sheets) else None

    def words(self, row: SheetRow) -> str:
        if row.open:
            return gettext("%(material)s, another length") % {"material": row.material}
        return f"{row.material}, {length_text(row.length, self.system)}" if row.length else str(row.material)

    def shown(self) -> list[dict[str, Any]]:
        """Rows of the sheet, and those of others in which something cannot be read."""
        wrong = {name.partition("_")[2] for name in self.errors}
        return [
            {"words": self.words(row), "pieces": self[f"pieces_{row.key}"]}
            | {name: self[f"{name}_{row.key}"] for name in ("length", "value") if f"{name}_{row.key}" in self.fields}
            for row in self.rows
            if row in self.sheet.rows or row.key in wrong
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for row in self.rows:
            if not data.get(f"pieces_{row.key}"):
                continue
            for name, words in (
                ("length", "Type the length of one piece."),
                ("value", "Type what one is worth; 0 where it is worth nothing."),
            ):
                box = f"{name}_{row.key}"
                if box in self.fields and box not in self.errors and data.get(box) is None:
                    self.add_error(box, words)
        return data

    def counted(self) -> list[Counted]:
        data, found = self.cleaned_data, []
        for row in self.rows:
            if pieces := data.get(f"pieces_{row.key}"):
                length = data[f"length_{row.key}"] if row.open else row.length
                value = row.best.of(length) if row.best else data[f"value_{row.key}"]
                found.append(Counted(row.material, length, pieces, value))
        return found
