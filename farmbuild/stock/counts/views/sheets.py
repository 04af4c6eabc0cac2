"""Sheets to count on, on paper or as a workbook."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from farmbuild.common.templatetags.farm import moment
from farmbuild.stock.counts import selectors
from farmbuild.stock.counts.by_material import rows_of
from farmbuild.stock.counts.views.counts import count_of
from farmbuild.stock.counts.workbooks import count_workbook
from farmbuild.workbooks.services import XLSX

#: Blank rows on paper for what is in no lot.
EMPTY_ROWS = 3
#: The same where nothing is in the stock record yet.
ALL_EMPTY_ROWS = 12


def sheets(request: HttpRequest, number: int) -> HttpResponse:
    """For paper: a table a place, in the order of the walk, with a box to write in."""
    row = count_of(request, number)
    by_place = selectors.lines_by_place(count=row)
    context = {
        "count": row,
        "by_place": by_place,
        "materials": [] if all(lines for _, lines in by_place) else rows_of(organisation=request.organisation),
        "all_empty_rows": range(ALL_EMPTY_ROWS),
        "lots": selectors.sheet_totals(count=row).lots,
        "empty_rows": range(EMPTY_ROWS),
        "as_of": moment(timezone.now()),
    }
    return render(request, "stock/counts/sheets.html", context)


def sheets_xlsx(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    name = f"count-{row.number}.xlsx"
    data = count_workbook(count=row)
    return HttpResponse(data, content_type=XLSX, headers={"Content-Disposition": f'attachment; filename="{name}"'})
