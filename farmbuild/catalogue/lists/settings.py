"""What the person said of a list, out of its stored form."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from farmbuild.catalogue.lists.columns import PER_LABELS, PIECE, Columns
from farmbuild.catalogue.lists.rows import Terms
from farmbuild.catalogue.models import PriceList
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.sheets import restore


def columns_of(price_list: PriceList) -> Columns:
    said = price_list.said
    head = said.get("head", 0)
    rows = price_list.sheets[said.get("sheet", 0)]["rows"]
    heads = {}
    for number, cells in rows:
        if number == head:
            heads = {at: restore(cell).text for at, cell in enumerate(cells) if cell != ""}
    return Columns(head, {int(at): role for at, role in said.get("columns", {}).items() if role}, heads)


def terms_of(price_list: PriceList, organisation: Organisation, today: date) -> Terms:
    said = price_list.said
    per = said.get("per", PIECE)
    return Terms(
        since=_day(said.get("since")) or today,
        per=per if per in PER_LABELS else PIECE,
        length=Decimal(said["length"]) if said.get("length") else None,
        lead_days=said.get("lead"),
        until=_day(said.get("until")),
        taxed={"with": True, "before": False}.get(said.get("tax", "")),
        only_known=bool(said.get("only_known")),
    )


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
