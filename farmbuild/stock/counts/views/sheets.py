"""Sheets to count on, on paper or as a workbook."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from farmbuild.stock.counts import selectors
from farmbuild.stock.counts.views.counts import count_of
from farmbuild.stock.counts.workbooks import count_workbook
from farmbuild.stock.ledger_tables import when
from farmbuild.stock.models import CountLine
from farmbuild.workbooks.services import XLSX

ROWS = 25
#: Lots on one page of a place's sheet; more than that is a long way to scroll on a phone.
BOXES = 40
#: Blank rows on paper for what is in no lot.
EMPTY_ROWS = 3
#: Things found that one page lists.
MAX_FINDS = 100


def sheets(request: HttpRequest, number: int) -> HttpResponse:
    """For paper: a table a place, in the order of the walk, with a box to write in."""
    row = count_of(request, number)
    found: dict[int, list[CountLine]] = {one.place_id: [] for one in row.places.all()}
    for one in selectors.lines_of(count=row):
        found.setdefault(one.place_id, []).append(one)
    places = [(one.place, found[one.place_id]) for one in row.places.select_related("place__site")]
    context = {
        "count": row,
        "by_place": places,
        "lots": sum(len(lines) for _, lines in places),
        "empty_rows": range(EMPTY_ROWS),
        "as_of": when(timezone.now()),
    }
    return render(request, "stock/counts/sheets.html", context)


def sheets_xlsx(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    name = f"count-{row.number}.xlsx"
    data = count_workbook(count=row)
    return HttpResponse(data, content_type=XLSX, headers={"Content-Disposition": f'attachment; filename="{name}"'})
