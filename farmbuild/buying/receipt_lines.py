"""The boxes of one line on the page that receives goods: what was typed, and what it says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import CharField
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.buying.receiving import Arrival
from farmbuild.catalogue.fields import CountField, MoneyField
from farmbuild.measure import amounts_shown

#: Field of Arrival, label, keyboard of a phone; the first stands open, the rest is folded away.
BOXES = (
    ("arrived", gettext_lazy("Pieces that came"), "numeric"),
    ("damaged", gettext_lazy("Of them damaged"), "numeric"),
    ("damage_reason", gettext_lazy("What is damaged"), ""),
    ("unit_price", gettext_lazy("Price of one, where it is another"), "decimal"),
    ("place", gettext_lazy("Where it lies, where it is another place"), ""),
)


def boxes_of() -> list[tuple[str, str, str]]:
    """Of this reader: who sees no costs types no price, and goods come at that of the order."""
    return [box for box in BOXES if box[0] != "unit_price" or amounts_shown()]


@dataclass
class Box:
    name: str
    label: str
    mode: str
    text: str
    error: str = ""
    #: Datalist of what may be typed.
    list: str = ""

    @property
    def id(self) -> str:
        return f"id_{self.name}"


@dataclass(frozen=True)
class Problem:
    """One line of the summary above the form."""

    id: str
    position: int
    sentence: str


@dataclass
class LineEntry:
    line: PurchaseOrderLine
    boxes: list[Box]
    values: dict[str, Any] = field(default_factory=dict)

    @property
    def opened(self) -> bool:
        return bool(self.line.delivery_site) or any(box.text or box.error for box in self.boxes[1:])

    @property
    def problems(self) -> list[Problem]:
        return [Problem(box.id, self.line.position, box.error) for box in self.boxes if box.error]

    def arrival(self) -> Arrival:
        return Arrival(
            line=self.line.pk,
            arrived=self.values["arrived"] or 0,
            damaged=self.values["damaged"] or 0,
            damage_reason=self.values["damage_reason"],
            unit_price=self.values.get("unit_price"),
            place=self.values["place"],
        )

    def add_error(self, name: str, sentence: str) -> None:
        for box, (known, _, _) in zip(self.boxes, boxes_of(), strict=True):
            if known == name:
                box.error = sentence


def empty_entries(lines: Iterable[PurchaseOrderLine], *, filled: bool) -> list[LineEntry]:
    """``filled``: with the counts that are still to come."""
    return [_entry(line, {"arrived": str(line.to_come)} if filled and line.to_come else {}) for line in lines]


def typed_entries(lines: Iterable[PurchaseOrderLine], data: Mapping[str, str], *, organisation: Any) -> list[LineEntry]:
    """What was typed, read; errors stand at the boxes."""
    price = MoneyField(required=False)
    price.currency = organisation.currency
    readers = {
        "arrived": CountField(least=0, required=False),
        "damaged": CountField(least=0, required=False),
        "damage_reason": CharField(max_length=200, required=False),
        "unit_price": price,
        "place": CharField(max_length=80, required=False),
    }
    readers = {name: readers[name] for name, _, _ in boxes_of()}
    entries = []
    for line in lines:
        entry = _entry(line, {name: data.get(f"{name}-{line.position}", "") for name in readers})
        for (name, reader), box in zip(readers.items(), entry.boxes, strict=True):
            try:
                entry.values[name] = reader.clean(box.text)
            except ValidationError as error:
                box.error = " ".join(error.messages)
        rest = any(box.text.strip() for box in entry.boxes[1:])
        if rest and not entry.boxes[0].text.strip():
            entry.add_error(
                "arrived", gettext("Type how many pieces came, the damaged ones included, or empty the rest.")
            )
        entries.append(entry)
    return entries


def _entry(line: PurchaseOrderLine, texts: Mapping[str, str]) -> LineEntry:
    places = f"places-{line.delivery_site.slug}" if line.delivery_site else "id_place_list"
    return LineEntry(
        line,
        [
            Box(f"{name}-{line.position}", label, mode, texts.get(name, ""), list=places if name == "place" else "")
            for name, label, mode in boxes_of()
        ],
    )
