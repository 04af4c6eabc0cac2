"""The differences of a count by value, counted again or posted."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.paging import paged
from farmbuild.common.speaking import said_count
from farmbuild.measure import typed_as
from farmbuild.stock.counts import selectors, services
from farmbuild.stock.counts.forms import LimitForm
from farmbuild.stock.counts.posting import CountProblems, post_count
from farmbuild.stock.counts.tables import DifferenceTable
from farmbuild.stock.counts.views.counts import count_of
from farmbuild.stock.models import StockCount
from farmbuild.stock.reserving.consuming import holders_in_words, reservations_of_lots

ROWS = 25
#: Things found that one page lists.
MAX_FINDS = 100


def review(request: HttpRequest, number: int) -> HttpResponse:
    return _review(request, count_of(request, number))


def _review(request: HttpRequest, row: StockCount, refused: ValidationError | None = None) -> HttpResponse:
    organisation = request.organisation
    filter_form = LimitForm(
        request.GET if "limit" in request.GET else {"limit": typed_as(row.look_again)}, organisation=organisation
    )
    limit = filter_form.cleaned_data["limit"] if filter_form.is_valid() else row.look_again
    finds = list(selectors.finds_of(count=row))
    standing = [found for found in finds if not found.taken_back]
    rows = selectors.differences_of(count=row)
    table = DifferenceTable(rows, organisation=organisation, sums_of_lots=selectors.sums_of(count=row, finds=[]).net)
    paged(request, table, rows=ROWS)
    short = selectors.held_short_of(count=row)[:ROWS] if row.is_open else ()
    totals = selectors.sheet_totals(count=row)
    context = {
        "count": row,
        "table": table,
        "sums": selectors.sums_of(count=row, finds=finds),
        "finds": standing,
        "finds_shown": standing[:MAX_FINDS],
        "filter_form": filter_form,
        "limit": limit,
        "large": len(selectors.large_differences(count=row, limit=limit)) if row.is_open else 0,
        "again": totals.again,
        "counted": totals.counted,
        "uncounted": totals.uncounted,
        "added_lots": selectors.lots_added_since(count=row).count() if row.is_open else 0,
        "held": [(one, holders_in_words(reservations_of_lots([one.lot_id]))) for one in short],
        "stand": selectors.progress_of(count=row),
        "problems": refused.messages if refused else [],
        "problem_lines": refused.problems if isinstance(refused, CountProblems) else [],
    }
    return render(request, "stock/counts/review.html", context)


@require_POST
def again(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    form = LimitForm(request.POST, organisation=request.organisation)
    limit = form.cleaned_data["limit"] if form.is_valid() else row.look_again
    given = {"organisation": request.organisation, "user": request.user, "count": row}
    try:
        if "stand" in request.POST:
            done = services.withdraw_recount(**given)
            words = f"{said_count(done, 'lot')}: the first count stands."
        else:
            lines = selectors.large_differences(count=row, limit=limit)
            done = services.request_recount(**given, lines=lines)
            words = f"{said_count(done, 'lot')} to be counted again; the boxes on the sheets of the places are empty."
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, words)
    return redirect("stock:count-review" if "stand" in request.POST else "stock:count", row.number)


@require_POST
def post(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    try:
        post_count(organisation=request.organisation, user=request.user, count=row, seen=request.POST.get("stand", ""))
    except ValidationError as error:
        row.refresh_from_db()
        return _review(request, row, error)
    messages.success(request, gettext("%(row)s is posted; the stock record says what was counted.") % {"row": row})
    return redirect("stock:count", row.number)
