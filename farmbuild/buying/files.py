"""Order workbooks, made from the plan's snapshot, so that they are the same whenever they are fetched."""

from __future__ import annotations

import io
import zipfile
from itertools import islice

from farmbuild.buying.bridge import numbered
from farmbuild.buying.models import PurchaseOrder
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import snapshot_of
from farmbuild.workbooks.services import PlanFile, order_file_name, order_workbook, plan_files

#: The first moment that a zip archive can carry; a moment of making would make equal archives differ.
ZIP_MOMENT = (1980, 1, 1, 0, 0, 0)


def order_file(*, order: PurchaseOrder) -> PlanFile:
    season, result = snapshot_of(plan=order.plan)
    planned = numbered(result.orders, order.plan.number)[order.number]
    supplier = next(one for one in season.suppliers if one.code == planned.supplier)
    data = order_workbook(
        order=planned,
        number=order.number,
        buyer=season.buyer,
        supplier=supplier,
        site=next(site for site in season.sites if site.code == planned.delivery_site),
        order_date=season.as_of,
        materials={material.code: material for material in season.materials},
    )
    return PlanFile(order_file_name(order.number, supplier), data)


def orders_archive(*, plan: Plan) -> PlanFile:
    """Every order of the plan in one .zip."""
    season, result = snapshot_of(plan=plan)
    # The orders come first; the files after them are not made.
    files = islice(plan_files(season, result, number_prefix=str(plan.number)), len(result.orders))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for file in files:
            archive.writestr(zipfile.ZipInfo(file.name, ZIP_MOMENT), file.data)
    return PlanFile(f"orders-{plan.number}.zip", packed.getvalue())
