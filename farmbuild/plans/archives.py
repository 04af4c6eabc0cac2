"""Every order of a plan in one file."""

from __future__ import annotations

import io
import zipfile
from itertools import islice

from farmbuild.buying.bridge import numbered
from farmbuild.buying.files import checked
from farmbuild.buying.models import SentWorkbook
from farmbuild.plans.models import Plan
from farmbuild.workbooks.services import PlanFile, plan_files

#: The first moment that a zip archive can carry; a moment of making would make equal archives differ.
ZIP_MOMENT = (1980, 1, 1, 0, 0, 0)


def orders_archive(*, plan: Plan) -> PlanFile:
    """Every order of the plan in one .zip; those that went out as they went out."""
    sent = {file.order.number: file for file in SentWorkbook.objects.filter(order__plan=plan).select_related("order")}
    season, result = plan.snapshot()
    # The orders come first; the files after them are not made.
    files = islice(plan_files(season, result, number_prefix=str(plan.number)), len(result.orders))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for number, file in zip(numbered(result.orders, plan.number), files, strict=True):
            if number in sent:
                file = checked(sent[number])
            archive.writestr(zipfile.ZipInfo(file.name, ZIP_MOMENT), file.data)
    return PlanFile(f"orders-{plan.number}.zip", packed.getvalue())
