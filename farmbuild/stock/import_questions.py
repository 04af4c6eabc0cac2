"""What is asked of the rows of a stock file that can be read: whether a cost or length far from the usual is right."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from farmbuild.catalogue.selectors import materials_of
from farmbuild.catalogue.usual import Priced, length_question, price_question, usual_of
from farmbuild.orgs.models import Organisation


def ask(rows: list[dict[str, Any]], *, organisation: Organisation) -> None:
    """Put ``questions`` into each row: field to sentence. What is usual is looked up once for each material."""
    materials = {row.code: row for row in materials_of(organisation=organisation)}
    usual: dict[str, list[Priced]] = {}
    # Files repeat themselves.
    asked: dict[tuple[Any, ...], dict[str, str]] = {}
    for row in rows:
        row["questions"] = {}
        if row["problems"]:
            continue
        key = (row["material"], row["length"], row["cost"], row["offcut"])
        if key not in asked:
            material = materials[row["material"]]
            material.organisation = organisation
            if material.code not in usual:
                usual[material.code] = usual_of(organisation=organisation, material=material)
            length = None if row["length"] is None else Decimal(row["length"])
            found = {
                "length": "" if row["offcut"] else length_question(material, length, usual[material.code]),
                "cost": price_question(material, Decimal(row["cost"]), length, usual[material.code]),
            }
            asked[key] = {name: question for name, question in found.items() if question}
        row["questions"] = asked[key]
