"""Order workbooks: a draft's is made from the plan's snapshot; that of a sent order is the file that went out."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from hashlib import sha256
from itertools import islice

from farmbuild.buying.bridge import numbered
from farmbuild.buying.models import PurchaseOrder, SentWorkbook
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import snapshot_of
from farmbuild.workbooks.services import PlanFile, order_file_name, order_workbook, plan_files

#: The first moment that a zip archive can carry; a moment of making would make equal archives differ.
ZIP_MOMENT = (1980, 1, 1, 0, 0, 0)


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
    season, result = snapshot_of(plan=order.plan)
    planned = numbered(result.orders, order.plan.number)[order.number]
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


def orders_archive(*, plan: Plan) -> PlanFile:
    """Every order of the plan in one .zip; those that went out as they went out."""
    sent = {file.order.number: file for file in SentWorkbook.objects.filter(order__plan=plan).select_related("order")}
    season, result = snapshot_of(plan=plan)
    # The orders come first; the files after them are not made.
    files = islice(plan_files(season, result, number_prefix=str(plan.number)), len(result.orders))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for number, file in zip(numbered(result.orders, plan.number), files, strict=True):
            if number in sent:
                file = checked(sent[number])
            archive.writestr(zipfile.ZipInfo(file.name, ZIP_MOMENT), file.data)
    return PlanFile(f"orders-{plan.number}.zip", packed.getvalue())
