"""The orders of a plan as files: as they went out, as drafts, or as trials that nothing is ordered by."""

from __future__ import annotations

import io
import zipfile

from farmbuild.buying.bridge import numbered, planned_number
from farmbuild.buying.files import order_file
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import joined_numbers
from farmbuild.plans.models import Plan
from farmbuild.workbooks.services import PlanFile, planned_order_file

#: The first moment that a zip archive can carry; a moment of making would make equal archives differ.
ZIP_MOMENT = (1980, 1, 1, 0, 0, 0)


def orders_archive(*, plan: Plan) -> PlanFile:
    """Every order of the plan in one .zip; those that went out as they went out, and trials where none stands.

    An order whose lines were joined into another is left out.
    """
    rows = PurchaseOrder.objects.filter(plan=plan).exclude(state=PurchaseOrder.State.CANCELLED)
    standing = {planned_number(row.number): row for row in rows.select_related("supplier", "delivery_site")}
    joined = {planned_number(number) for number in joined_numbers(plan=plan.pk)} - standing.keys()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for number in numbered(plan.snapshot()[1].orders, plan.number):
            if number in joined:
                continue
            if (order := standing.get(number)) is not None:
                order.plan = plan
            file = trial_file(plan=plan, number=number) if order is None else order_file(order=order)
            archive.writestr(zipfile.ZipInfo(file.name, ZIP_MOMENT), file.data)
    return PlanFile(f"{'orders' if standing else 'trial-orders'}-{plan.number}.zip", packed.getvalue())


def trial_file(*, plan: Plan, number: str) -> PlanFile:
    """What the plan would order under that number, marked as a trial. Raises KeyError where it has no such order."""
    season, result = plan.snapshot()
    return planned_order_file(season, numbered(result.orders, plan.number)[number], number=number, trial=True)
