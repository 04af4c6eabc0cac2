"""Order workbooks: a draft's is made from the plan's snapshot; that of a sent order is the file that went out."""

from __future__ import annotations

from datetime import date
from hashlib import sha256

from farmbuild.buying.bridge import numbered, planned_number
from farmbuild.buying.models import PurchaseOrder, SentWorkbook
from farmbuild.workbooks.services import PlanFile, order_file_name, order_workbook


class FileChanged(Exception):
    """The kept file is not what was sent; the text says so."""


def order_file(*, order: PurchaseOrder) -> PlanFile:
    """As sent, else made fresh. Raises FileChanged where the kept bytes do not give the kept checksum."""
    sent = SentWorkbook.objects.filter(order=order).first()
    return fresh_file(order=order) if sent is None else checked(sent)


def checked(sent: SentWorkbook) -> PlanFile:
    data = bytes(sent.data)
    if sha256(data).hexdigest() != sent.sha256:
        raise FileChanged(
            f"The kept file {sent.name} is not the one that was sent: its checksum is another. "
            "It is not given out. Take it from a backup of the database."
        )
    return PlanFile(sent.name, data)


def fresh_file(*, order: PurchaseOrder, order_date: date | None = None) -> PlanFile:
    """``order_date``: as the plan has it, unless given."""
    season, result = order.plan.snapshot()
    planned = numbered(result.orders, order.plan.number)[planned_number(order.number)]
    supplier = next(one for one in season.suppliers if one.code == planned.supplier)
    data = order_workbook(
        order=planned,
        number=order.number,
        buyer=season.buyer,
        supplier=supplier,
        site=next(site for site in season.sites if site.code == planned.delivery_site),
        order_date=order_date or season.as_of,
        materials={material.code: material for material in season.materials},
    )
    return PlanFile(order_file_name(order.number, supplier), data)
