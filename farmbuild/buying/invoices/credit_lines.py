"""The boxes of one line on the page that records a credit note: what was typed, and what it says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from farmbuild.buying.invoices.crediting import Left, LineCredited
from farmbuild.buying.receipt_lines import Box, Problem
from farmbuild.catalogue.fields import CountField, MoneyField
from farmbuild.measure import places
from farmbuild.orgs.models import Organisation

#: Field of LineCredited, label, keyboard of a phone.
BOXES = (
    ("quantity", gettext_lazy("Pieces credited"), "numeric"),
    ("amount", gettext_lazy("Amount credited"), "decimal"),
)


@dataclass
class CreditedEntry:
    """``left``: what can be credited of the line."""

    left: Left
    boxes: list[Box]
    values: dict[str, Any] = field(default_factory=dict)

    @property
    def problems(self) -> list[Problem]:
        return [Problem(box.id, self.left.line.position, box.error) for box in self.boxes if box.error]

    def credited(self) -> LineCredited:
        return LineCredited(self.left.line.pk, self.values["quantity"] or 0, self.values["amount"])

    def add_error(self, name: str, sentence: str) -> None:
        for box in self.boxes:
            if box.name == f"{name}-{self.left.line.position}":
                box.error = sentence


def credit_entries(
    lines: Iterable[Left], data: Mapping[str, str], *, organisation: Organisation
) -> list[CreditedEntry]:
    """What was typed, read; errors stand at the boxes."""
    amount = MoneyField(required=False, places=places(organisation.currency))
    amount.currency = organisation.currency
    readers = {"quantity": CountField(least=0, required=False), "amount": amount}
    entries = []
    for left in lines:
        at = left.line.position
        boxes = [Box(f"{name}-{at}", label, mode, data.get(f"{name}-{at}", "")) for name, label, mode in BOXES]
        entry = CreditedEntry(left, boxes)
        for (name, reader), box in zip(readers.items(), boxes, strict=True):
            try:
                entry.values[name] = reader.clean(box.text)
            except ValidationError as error:
                box.error = " ".join(error.messages)
        entries.append(entry)
    return entries
