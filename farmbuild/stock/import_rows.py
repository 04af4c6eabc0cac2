"""One row of a stock file as understood, with what is wrong with it in the words of the person who sent it.

A row is plain values that JSON can hold, because it waits in a draft until it is confirmed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from functools import lru_cache
from typing import Any, NamedTuple

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.measure import NumberStyle, current_style
from farmbuild.measure.limits import PAPER_DAYS
from farmbuild.stock.bridge import Unit
from farmbuild.workbooks.headings import key
from farmbuild.workbooks.reading import (
    Cell,
    CellError,
    Row,
    as_bool,
    as_date,
    as_length,
    as_money,
    as_quantity,
    as_text,
)

_LENGTHS = ("Length", "Length of one", "Length of one piece")
#: A heading may say the unit of the bare numbers under it.
_UNIT_OF_HEADING = {
    words + end.format(unit): unit
    for words in _LENGTHS
    for unit in (Unit.MILLIMETRE, Unit.CENTIMETRE, Unit.METRE, Unit.INCH, Unit.FOOT)
    for end in (", {}", " ({})", " [{}]", " in {}", " {}")
}
#: Accepted headings of each field; the first is the one that the template has.
HEADINGS: dict[str, tuple[str, ...]] = {
    "material": ("Material", "Material code", "Item"),
    "length": (*_LENGTHS, *_UNIT_OF_HEADING),
    "quantity": ("Quantity", "Pieces", "How many"),
    "place": ("Place", "Where it lies"),
    "site": ("Site",),
    "cost": ("Cost of one", "Unit cost", "Cost"),
    "supplier": ("Supplier",),
    "received": ("Received on", "Received"),
    "reference": ("Reference", "Lot"),
    "offcut": ("Offcut",),
    "owner": ("Owner", "Member"),
}
REQUIRED = frozenset({"material", "quantity", "place"})
#: Of one file: read in 25 s and in stock in 32 s more, of which others wait 4 s, with 300 MB of memory (all seen on two
#: processors that six others used too).
MAX_ROWS, MAX_BYTES = 60_000, 20 * 1024 * 1024
EARLIEST, LATEST = PAPER_DAYS.first, PAPER_DAYS.last
_MAX_SUGGESTIONS = 200


class KnownMaterial(NamedTuple):
    code: str
    name: str
    by_length: bool
    #: Why a piece cannot be so long, "" where it can.
    too_long: Callable[[Decimal], str]


@dataclass
class Known:
    """What the organisation has: names and codes, in small letters, to rows. ``references`` grows with the file."""

    unit: Unit
    today: date
    currency: str
    materials: Mapping[str, KnownMaterial]
    suppliers: Mapping[str, str]
    #: Name in small letters to the name as stored and its site's name ("" for none).
    places: Mapping[str, tuple[str, str]]
    sites: Mapping[str, str]
    references: set[str]
    #: Names of members of a cooperative in small letters, to their names.
    owners: Mapping[str, str] = field(default_factory=dict)
    #: Where each reference of the file was first seen.
    seen: dict[str, int] = field(default_factory=dict)
    #: Sites of places that are new in the file.
    new_places: dict[str, tuple[str, str]] = field(default_factory=dict)
    #: Whether the heading of the lengths has said the unit.
    told: bool = False
    _nearest: dict[tuple[int, str], str] = field(default_factory=dict)

    def use_heading(self, text: str) -> None:
        """Bare lengths are in the unit that the heading over them names, where it names one."""
        known = {key(heading): unit for heading, unit in _UNIT_OF_HEADING.items()}
        if unit := known.get(key(text)):
            self.unit, self.told = unit, True

    def nearest(self, text: str, names: Mapping[str, Any], shown: Callable[[Any], str]) -> str:
        """“ Did you mean …?” with the names most like ``text``, or nothing."""
        key = (id(names), text.casefold())
        if key not in self._nearest:
            if len(self._nearest) >= _MAX_SUGGESTIONS:
                # Comparing is slow, and a file with so many unknown names has another trouble.
                return ""
            close = get_close_matches(key[1], names, n=4, cutoff=0.5)
            found = dict.fromkeys(shown(names[name]) for name in close)
            self._nearest[key] = f" Did you mean {' or '.join(list(found)[:3])}?" if found else ""
        return self._nearest[key]


@lru_cache(maxsize=4096)
def _read_length(cell: Cell, kind: type, unit: Unit, style: NumberStyle, *, told: bool) -> Decimal:
    """Files repeat lengths. ``kind`` is the type of the value, because True, 1 and 1.0 are equal but not alike.

    ``style`` is the one in force, by which text is read: files of two organisations may differ in it.
    """
    return as_length(cell, unit, told=told)


def read_row(row: Row, known: Known) -> dict[str, Any]:
    """``row`` (its number), the values understood, and ``problems``: field to sentence, empty when all is right.

    ``typed`` has what stood in the cells that could not be understood.
    """
    reader = _RowReader(row, known)
    out: dict[str, Any] = {"row": row.number}
    material = reader.value("material", lambda cell: _material(cell, known))
    out["material"] = material.code if material else ""
    out["name"] = material.name if material else ""
    out["length"] = reader.value("length", lambda cell: _length(cell, material, known))
    out["quantity"] = reader.value("quantity", lambda cell: as_quantity(cell, least=1, most=MAX_QUANTITY))
    out["cost"] = reader.value("cost", lambda cell: "0" if cell.blank else str(as_money(cell, currency=known.currency)))
    out["supplier"] = reader.value("supplier", lambda cell: _supplier(cell, known)) or ""
    out["owner"] = reader.value("owner", lambda cell: _owner(cell, known)) or ""
    if out["owner"] and out["cost"] and Decimal(out["cost"]):
        reader.problems.setdefault("cost", f"The pieces are those of {out['owner']}. Leave the cost empty.")
    out["received"] = reader.value("received", lambda cell: _received(cell, known))
    out["reference"] = reader.value("reference", lambda cell: _reference(cell, row.number, known)) or ""
    out["offcut"] = reader.value("offcut", as_bool) or False
    place = reader.value("place", _place) or ""
    site = reader.value("site", lambda cell: _site(cell, known)) or ""
    spot = reader.check("site", lambda: _resolve_place(place, site, known)) if place else None
    out["place"], out["site"], out["new_place"] = spot or (place, site, False)
    out["problems"] = reader.problems
    out["typed"] = {name: row[name].shown[:80] for name in reader.problems if name in row.cells}
    return out


class _RowReader:
    def __init__(self, row: Row, known: Known) -> None:
        self.row, self.known = row, known
        self.problems: dict[str, str] = {}

    def value(self, name: str, read: Callable[[Cell], Any]) -> Any:
        return self.check(name, lambda: read(self.row[name]))

    def check(self, name: str, read: Callable[[], Any]) -> Any:
        try:
            return read()
        except CellError as error:
            self.problems.setdefault(name, str(error))
        return None


def _material(cell: Cell, known: Known) -> KnownMaterial:
    text = as_text(cell, most=120)
    if not text:
        raise CellError("This cell is empty. Type the short name of a material, for example rail-1-3-8.")
    found = known.materials.get(text.casefold())
    if found is None:
        nearest = known.nearest(text, known.materials, lambda row: row.code)
        raise CellError(f"There is no material “{text}”.{nearest or ' Add it under Materials first.'}")
    return found


def _length(cell: Cell, material: KnownMaterial | None, known: Known) -> str | None:
    if cell.blank:
        if material and material.by_length:
            example = "10'" if known.unit in (Unit.FOOT, Unit.INCH) else "3 m"
            raise CellError(f"{material.name} comes by length. Type the length of one piece, for example {example}.")
        return None
    length = _read_length(cell, type(cell.value), known.unit, current_style(), told=known.told)
    if length <= 0:
        raise CellError("Type a length longer than zero.")
    if material and not material.by_length:
        raise CellError(f"{material.name} is counted, not measured. Leave the length empty.")
    if material and (problem := material.too_long(length)):
        raise CellError(problem)
    return str(length)


def _supplier(cell: Cell, known: Known) -> str:
    text = as_text(cell, most=120)
    if not text:
        return ""
    found = known.suppliers.get(text.casefold())
    if found is None:
        nearest = known.nearest(text, known.suppliers, str)
        raise CellError(f"There is no supplier “{text}”.{nearest or ' Add it under Suppliers, or leave this empty.'}")
    return found


def _owner(cell: Cell, known: Known) -> str:
    text = as_text(cell, most=120)
    if not text:
        return ""
    found = known.owners.get(text.casefold())
    if found is None:
        nearest = known.nearest(text, known.owners, str)
        raise CellError(f"There is no member “{text}”.{nearest or ' Add it first, or leave this empty.'}")
    return found


def _received(cell: Cell, known: Known) -> str:
    day = known.today if cell.blank else as_date(cell)
    if not EARLIEST <= day <= LATEST:
        raise CellError(f"{day.isoformat()} cannot be right. Type a day from {EARLIEST.year} to {LATEST.year}.")
    return day.isoformat()


def _reference(cell: Cell, number: int, known: Known) -> str:
    text = as_text(cell, most=40)
    if not text:
        return ""
    if text in known.references:
        raise CellError(f"A lot {text} is in stock already. Type another reference, or leave this empty.")
    if text in known.seen:
        raise CellError(f"Row {known.seen[text]} has the reference {text} too. Type another, or leave this empty.")
    known.seen[text] = number
    return text


def _place(cell: Cell) -> str:
    text = " ".join(as_text(cell, most=80).split())
    if not text:
        raise CellError("This cell is empty. Type where the lot lies, for example Barn rack.")
    return text


def _site(cell: Cell, known: Known) -> str:
    text = as_text(cell, most=120)
    if not text:
        return ""
    found = known.sites.get(text.casefold())
    if found is None:
        nearest = known.nearest(text, known.sites, str)
        raise CellError(f"There is no site “{text}”.{nearest or ' Make the site first, or leave this empty.'}")
    return found


def _resolve_place(place: str, site: str, known: Known) -> tuple[str, str, bool]:
    """One place is at one site, in the books and in the file: its name, its site and whether it is new."""
    key = place.casefold()
    new = key not in known.places
    name, at = known.places.get(key) or known.new_places.get(key) or (place, site)
    if site and at and site != at:
        raise CellError(f"{name} is at {at}. Type that, or another name for the place.")
    if site and not at and not new:
        raise CellError(f"{name} is at no site. Leave this empty, or type another name for the place.")
    if new:
        known.new_places[key] = (name, at or site)
    return name, at or site, new
