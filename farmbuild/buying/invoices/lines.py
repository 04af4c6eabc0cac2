"""The boxes of one line on the page that records an invoice: what was typed, and what it says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.invoices.services import LineBilled
from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.buying.receipt_lines import Box, Problem
from farmbuild.catalogue.fields import CountField, MoneyField
from farmbuild.orgs.models import Organisation

#: Field of LineBilled, label, keyboard of a phone.
BOXES = (
    ("quantity", gettext_lazy("Pieces billed"), "numeric"),
    ("unit_price", gettext_lazy("Price of one"), "decimal"),
)


@dataclass
class BilledEntry:
    """``unbilled``: pieces that came and are on no invoice yet."""

    line: PurchaseOrderLine
    unbilled: int
    boxes: list[Box]
    values: dict[str, Any] = field(default_factory=dict)

    @property
    def problems(self) -> list[Problem]:
        return [Problem(box.id, self.line.position, box.error) for box in self.boxes if box.error]

    def billed(self) -> LineBilled:
        return LineBilled(self.line.pk, self.values["quantity"] or 0, self.values["unit_price"])

    def add_error(self, name: str, sentence: str) -> None:
        for box in self.boxes:
            if box.name == f"{name}-{self.line.position}":
                box.error = sentence


def empty_entries(lines: Iterable[PurchaseOrderLine], unbilled: Mapping[int, int]) -> list[BilledEntry]:
    """Filled with what came and is not billed yet."""
    return [
        _entry(line, unbilled[line.pk], {"quantity": str(unbilled[line.pk]) if unbilled[line.pk] > 0 else ""})
        for line in lines
    ]


def typed_entries(
    lines: Iterable[PurchaseOrderLine],
    unbilled: Mapping[int, int],
    data: Mapping[str, str],
    *,
    organisation: Organisation,
) -> list[BilledEntry]:
    """What was typed, read; errors stand at the boxes."""
    price = MoneyField(required=False)
    price.currency = organisation.currency
    readers = {"quantity": CountField(least=0, required=False), "unit_price": price}
    entries = []
    for line in lines:
        entry = _entry(line, unbilled[line.pk], {name: data.get(f"{name}-{line.position}", "") for name in readers})
        for (name, reader), box in zip(readers.items(), entry.boxes, strict=True):
            try:
                entry.values[name] = reader.clean(box.text)
            except ValidationError as error:
                box.error = " ".join(error.messages)
        if entry.boxes[1].text.strip() and not entry.boxes[0].text.strip():
            entry.add_error("quantity", gettext("Type how many pieces were billed, or empty the price."))
        entries.append(entry)
    return entries


def _entry(line: PurchaseOrderLine, unbilled: int, texts: Mapping[str, str]) -> BilledEntry:
    boxes = [Box(f"{name}-{line.position}", label, mode, texts.get(name, "")) for name, label, mode in BOXES]
    return BilledEntry(line, unbilled, boxes)
