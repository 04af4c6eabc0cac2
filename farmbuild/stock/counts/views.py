"""Pages of counts: start, count a place, review, post. Filled-in sheets are read on pages of import_views."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from farmbuild.common.form_parts import put_errors
from farmbuild.stock.counts import selectors, services
from farmbuild.stock.counts.forms import FindForm, LimitForm, PlaceSheetForm, StartForm
from farmbuild.stock.counts.posting import CountProblems, post_count
from farmbuild.stock.counts.sheets import count_workbook
from farmbuild.stock.counts.tables import CountPlaceTable, CountTable, DifferenceTable, EntryTable
from farmbuild.stock.ledger_selectors import lot_history
from farmbuild.stock.ledger_tables import signed, when, who
from farmbuild.stock.models import CountLine, Place, StockCount
from farmbuild.stock.reserving.taking import held_of, holders_in_words
from farmbuild.stock.words import so_many
from farmbuild.workbooks.services import XLSX

ROWS = 25
#: Lots on one page of a place's sheet; more than that is a long way to scroll on a phone.
BOXES = 40
#: Blank rows on paper for what is in no lot.
EMPTY_ROWS = 3
#: Things found that one page lists.
MOST_FINDS = 100


def count_of(request: HttpRequest, number: int) -> StockCount:
    return get_object_or_404(selectors.counts_of(organisation=request.organisation), number=number)


def place_of(count: StockCount, pk: int) -> Place:
    return get_object_or_404(count.places.select_related("place__site"), place=pk).place


def counts(request: HttpRequest) -> HttpResponse:
    table = CountTable(selectors.count_rows(organisation=request.organisation), organisation=request.organisation)
    RequestConfig(request, paginate={"per_page": ROWS}).configure(table)
    open_ones = list(
        selectors.counts_of(organisation=request.organisation)
        .filter(state=StockCount.State.OPEN)
        .order_by("-number")
        .values_list("number", flat=True)[:6]
    )
    context = {"table": table, "count": table.paginator.count, "open_numbers": open_ones[:5], "more": open_ones[5:]}
    return render(request, "stock/counts/list.html", context)


def start(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    places = selectors.places_free_to_count(organisation=organisation)
    given = {"places": request.GET.getlist("place")}
    form = StartForm(request.POST or None, initial=given, places=places, organisation=organisation)
    if form.is_valid():
        try:
            count = services.start_count(
                organisation=organisation, user=request.user, **form.cleaned_data | _list(form, "places")
            )
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{count} is open. Print its sheets, or count a place on the phone.")
            return redirect("stock:count", count.number)
    return render(request, "stock/counts/start.html", {"form": form, "any_places": places.exists()})


def _list(form: StartForm, name: str) -> dict[str, Any]:
    return {name: list(form.cleaned_data[name])}


def count(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    places = selectors.places_of_count(count=row)
    table = CountPlaceTable(places, organisation=request.organisation)
    RequestConfig(request, paginate={"per_page": ROWS}).configure(table)
    lots = sum(one.line_count for one in places)
    context = {
        "count": row,
        "table": table,
        "place_count": len(places),
        "lots": lots,
        "counted": sum(one.counted_count for one in places),
        "again": sum(one.again_count for one in places),
        "next": next((one.place for one in places if one.left), None),
        "started": when(row.started_at),
        "starter": who(row.started_by),
        "ended": row.ended_at and when(row.ended_at),
        "ender": who(row.ended_by),
        "finds": sum(not find.taken_back for find in selectors.finds_of(count=row)),
        "sums": selectors.sums_of(count=row, finds=selectors.finds_of(count=row)) if not row.is_open else None,
    }
    return render(request, "stock/counts/count.html", context)


def place(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """The sheet of one place, to fill in on the phone or from paper."""
    organisation = request.organisation
    row = count_of(request, number)
    spot = place_of(row, pk)
    on_sheet = selectors.lines_of(count=row).filter(place=spot)
    pages = Paginator(on_sheet, BOXES)
    page = pages.get_page(request.GET.get("page"))
    lines = list(page.object_list)
    last = page.number == pages.num_pages
    more = list(selectors.lots_come_in(count=row, place=spot)[:BOXES]) if last and row.is_open else []
    form = PlaceSheetForm(request.POST or None, lines=lines, more=more, organisation=organisation)
    if row.is_open and form.is_valid():
        try:
            entered = services.enter(
                organisation=organisation,
                user=request.user,
                count=row,
                counted=form.counted(),
                counted_at=form.cleaned_data["counted_at"],
            )
        except ValidationError as error:
            put_errors(form, error)
        else:
            if entered:
                messages.success(request, f"{so_many(entered, 'lot')} of {spot} entered.")
            else:
                messages.info(request, f"Nothing new was typed at {spot}, so nothing was entered.")
            if not last:
                return redirect(f"{request.path}?page={page.number + 1}")
            following = _next_place(row, spot)
            return (
                redirect("stock:count-place", row.number, following)
                if following
                else redirect("stock:count", row.number)
            )
    finds = list(selectors.finds_of(count=row).filter(place=spot)[:MOST_FINDS])
    context = {
        "count": row,
        "place": spot,
        "form": form,
        "rows": list(form.rows()),
        "first_more": more[0].pk if more else None,
        "page": page,
        "lots": pages.count,
        "left": on_sheet.filter(counted=None).count() + on_sheet.filter(again=True).count(),
        "finds": finds,
    }
    return render(request, "stock/counts/place.html", context)


def _next_place(row: StockCount, spot: Place) -> int | None:
    """The next place in the walk with something left, starting over at the end."""
    places = selectors.places_of_count(count=row)
    at = next(at for at, one in enumerate(places) if one.place == spot)
    return next((one.place.pk for one in [*places[at + 1 :], *places[:at]] if one.left), None)


def find(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    organisation = request.organisation
    row = count_of(request, number)
    spot = place_of(row, pk)
    form = FindForm(request.POST or None, organisation=organisation)
    if form.is_valid():
        try:
            found = services.note_find(
                organisation=organisation, user=request.user, count=row, place=spot, **form.cleaned_data
            )
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{so_many(found.quantity, 'piece')} of {found.material} noted at {spot}.")
            return redirect("stock:count-place", row.number, spot.pk)
    return render(request, "stock/counts/find.html", {"form": form, "count": row, "place": spot})


@require_POST
def take_back(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    row = count_of(request, number)
    found = get_object_or_404(selectors.finds_of(count=row), pk=pk)
    try:
        services.take_back_find(organisation=request.organisation, user=request.user, find=found)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, f"{so_many(found.quantity, 'piece')} of {found.material} taken back.")
    return redirect("stock:count-place", row.number, found.place_id)


def line(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """One lot of a count: every entry, what moved since, and a box to count it again."""
    organisation = request.organisation
    row = count_of(request, number)
    one = get_object_or_404(selectors.with_difference(selectors.lines_of(count=row)), pk=pk)
    form = PlaceSheetForm(request.POST or None, lines=[one], more=[], organisation=organisation)
    # Here a box is only filled to count again, even to the same number.
    form.fields[f"lot_{one.lot_id}"].initial = form.fields[f"was_{one.lot_id}"].initial = None
    if row.is_open and form.is_valid():
        try:
            services.enter(
                organisation=organisation,
                user=request.user,
                count=row,
                counted=form.counted(),
                counted_at=form.cleaned_data["counted_at"],
            )
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"Lot {one.lot} is entered.")
            # From a label on to the next label.
            if "label" in request.GET:
                return redirect("stock:lot-short", one.lot.reference)
            return redirect("stock:count-review", row.number)
    # Whoever counts blind sees the books in the review, not beside the box.
    hidden = row.blind and row.is_open
    table = EntryTable(
        one.entries.select_related("by"), organisation=organisation, exclude=["expected"] if hidden else []
    )
    RequestConfig(request, paginate={"per_page": ROWS}).configure(table)
    since = lot_history(organisation=organisation, lot=one.lot).filter(pk__gt=one.upto) if one.upto is not None else []
    context = {
        "count": row,
        "line": one,
        "form": form,
        "table": table,
        "difference": signed(one.difference or 0),
        "hidden": hidden,
        "since": [(when(each.at), signed(each.quantity), each) for each in since[:ROWS]] if row.is_open else [],
        "held": holders_in_words(held_of([one.lot_id])) if one.lot.reserved else "",
    }
    return render(request, "stock/counts/line.html", context)


def review(request: HttpRequest, number: int) -> HttpResponse:
    return _review(request, count_of(request, number))


def _review(request: HttpRequest, row: StockCount, refused: ValidationError | None = None) -> HttpResponse:
    organisation = request.organisation
    narrowing = LimitForm(
        request.GET if "limit" in request.GET else {"limit": str(row.look_again)}, organisation=organisation
    )
    limit = narrowing.cleaned_data["limit"] if narrowing.is_valid() else row.look_again
    finds = list(selectors.finds_of(count=row))
    standing = [found for found in finds if not found.taken_back]
    rows = selectors.differences_of(count=row)
    table = DifferenceTable(rows, organisation=organisation, sums_of_lots=selectors.sums_of(count=row, finds=[]).net)
    RequestConfig(request, paginate={"per_page": ROWS}).configure(table)
    held = [
        (one, holders_in_words(held_of([one.lot_id]))) for one in rows.filter(held_short__gt=0)[:ROWS] if row.is_open
    ]
    lines = selectors.lines_of(count=row)
    context = {
        "count": row,
        "table": table,
        "sums": selectors.sums_of(count=row, finds=finds),
        "finds": standing,
        "finds_shown": standing[:MOST_FINDS],
        "narrowing": narrowing,
        "limit": limit,
        "large": len(selectors.large_differences(count=row, limit=limit)) if row.is_open else 0,
        "again": lines.filter(again=True).count(),
        "counted": lines.filter(counted__isnull=False).count(),
        "uncounted": lines.filter(counted=None).count(),
        "come_in": selectors.lots_come_in(count=row).count() if row.is_open else 0,
        "held": held,
        "stand": selectors.stand_of(count=row),
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
            done = services.let_stand(**given)
            words = f"{so_many(done, 'lot')}: the first count stands."
        else:
            lines = selectors.large_differences(count=row, limit=limit)
            done = services.ask_again(**given, lines=lines)
            words = f"{so_many(done, 'lot')} to be counted again; the boxes on the sheets of the places are empty."
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
    messages.success(request, f"{row} is posted; the books say what was counted.")
    return redirect("stock:count", row.number)


def drop(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    if request.method == "POST":
        try:
            services.drop_count(organisation=request.organisation, user=request.user, count=row)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(request, f"{row} is dropped. The books stay as they are.")
        return redirect("stock:count", row.number)
    return render(request, "stock/counts/drop.html", {"count": row})


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
