"""Order workbooks: a draft's is made afresh; that of a sent order is the file that went out."""

from __future__ import annotations

from datetime import date
from hashlib import sha256

from django.utils.translation import gettext

from farmbuild.buying.bridge import order_sheet
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
            gettext(
                "The kept file %(sent)s is not the one that was sent: its checksum is another. It is not given "
                "out. Take it from a backup of the database."
            )
            % {"sent": sent.name}
        )
    return PlanFile(sent.name, data)


def fresh_file(*, order: PurchaseOrder, order_date: date | None = None) -> PlanFile:
    """``order_date``: as the plan has it, or today, unless given."""
    sheet = order_sheet(order)
    data = order_workbook(
        order=sheet.order,
        number=order.number,
        buyer=sheet.buyer,
        supplier=sheet.supplier,
        site=sheet.site,
        order_date=order_date or sheet.order_date,
        materials=sheet.materials,
        deliver_to=sheet.deliver_to,
        note=sheet.note,
    )
    return PlanFile(order_file_name(order.number, sheet.supplier), data)
