"""Counting one place: its lots, and what was found that stands in no lot."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.form_parts import add_service_errors, error_words
from farmbuild.common.paging import paged
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import moment
from farmbuild.stock.counts import selectors, services
from farmbuild.stock.counts.by_material import MaterialsForm, record_finds
from farmbuild.stock.counts.forms import FindForm, PlaceSheetForm
from farmbuild.stock.counts.tables import EntryTable
from farmbuild.stock.counts.views.counts import count_of, place_of
from farmbuild.stock.ledger_tables import signed
from farmbuild.stock.models import Place, StockCount
from farmbuild.stock.reserving.consuming import holders_in_words, reservations_of_lots

ROWS = 25
#: Lots on one page of a place's sheet: as many as five screens of a phone hold.
BOXES = 12
#: Things found that one page lists.
MAX_FINDS = 100


def place(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """The sheet of one place, to fill in on the phone or from paper."""
    organisation = request.organisation
    row = count_of(request, number)
    spot = place_of(row, pk)
    pages = Paginator(selectors.lines_of(count=row, place=spot), BOXES)
    page = pages.get_page(request.GET.get("page") or selectors.page_left(count=row, place=spot, rows=BOXES))
    last = page.number == pages.num_pages
    if request.method == "POST":
        # Lots that came in meanwhile move the others to other pages: what was sent is what counts.
        sent = PlaceSheetForm.lots_sent(request.POST)
        lines, more = selectors.sheet_of_lots(count=row, place=spot, lots=sent)
    else:
        lines = list(page.object_list)
        more = list(selectors.lots_added_since(count=row, place=spot)[:BOXES]) if last and row.is_open else []
    form = PlaceSheetForm(request.POST or None, lines=lines, more=more, organisation=organisation)
    if row.is_open and form.is_valid():
        try:
            entered = services.record_counts(
                organisation=organisation,
                user=request.user,
                count=row,
                counted=form.counted(),
                counted_at=form.moment(),
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            if entered:
                messages.success(
                    request,
                    gettext("%(entered)s of %(spot)s entered.") % {"entered": said_count(entered, "lot"), "spot": spot},
                )
            else:
                messages.info(
                    request, gettext("Nothing new was typed at %(spot)s, so nothing was entered.") % {"spot": spot}
                )
            if to := request.POST.get("to"):
                return _kept(request, f"{request.path}?page={pages.get_page(to).number}")
            if entered and len(more) == BOXES:
                return _kept(request, f"{request.path}?page={pages.num_pages}")
            return _kept(request, _following(row, spot, page))
    if form.is_bound and not request.accepts("text/html"):
        ended = gettext("%(count)s has ended; nothing of it changes any more.") % {"count": row}
        problem = error_words(form) if row.is_open else ended
        return JsonResponse({"kept": False, "problem": problem, "fields": {}}, status=422)
    finds = list(selectors.finds_of(count=row, place=spot)[:MAX_FINDS])
    context = {
        "count": row,
        "place": spot,
        "form": form,
        "rows": list(form.rows()),
        "first_more": more[0].pk if more else None,
        "page": page,
        "lots": pages.count,
        "left": selectors.sheet_totals(count=row, place=spot).left,
        "finds": finds,
        "next": _following(row, spot, page) if row.is_open else "",
    }
    return render(request, "stock/counts/place.html", context)


def _following(count: StockCount, spot: Place, page: Page) -> str:
    """Address of the sheet after this one: of the place, of the next place with something left, or the whole count."""
    if page.has_next():
        return f"{reverse('stock:count-place', args=[count.number, spot.pk])}?page={page.next_page_number()}"
    following = selectors.next_place(count=count, after=spot)
    return (
        reverse("stock:count-place", args=[count.number, following.pk])
        if following
        else reverse("stock:count", args=[count.number])
    )


def _kept(request: HttpRequest, to: str) -> HttpResponse:
    """On to the next sheet; a phone that sends what waited on it gets its address in words for a script."""
    if request.accepts("text/html"):
        return redirect(to)
    return JsonResponse({"kept": True, "to": to}, status=201, headers={"Location": to})


def find(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    organisation = request.organisation
    row = count_of(request, number)
    spot = place_of(row, pk)
    form = FindForm(request.POST or None, organisation=organisation)
    if form.is_valid():
        try:
            found = services.record_find(
                organisation=organisation, user=request.user, count=row, place=spot, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request,
                gettext("%(quantity)s of %(material)s noted at %(spot)s.")
                % {"quantity": said_count(found.quantity, "piece"), "material": found.material, "spot": spot},
            )
            return redirect("stock:count-place", row.number, spot.pk)
    return render(request, "stock/counts/find.html", {"form": form, "count": row, "place": spot})


def materials(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Counting by material what is in no lot yet, on the phone or from paper."""
    organisation = request.organisation
    row = count_of(request, number)
    spot = place_of(row, pk)
    form = MaterialsForm(request.POST or None, organisation=organisation, asked=request.GET.get("sheet", ""))
    if row.is_open and form.is_valid():
        counted = form.counted()
        try:
            record_finds(organisation=organisation, user=request.user, count=row, place=spot, counted=counted)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            if counted:
                messages.success(
                    request,
                    gettext("%(counted)s of pieces noted at %(spot)s.")
                    % {"counted": said_count(len(counted), "kind"), "spot": spot},
                )
            if to := request.POST.get("to"):
                return redirect(f"{request.path}?sheet={form.number(to)}")
            return redirect("stock:count-place", row.number, spot.pk)
    finds = list(selectors.finds_of(count=row, place=spot)[:MAX_FINDS])
    context = {"form": form, "rows": form.shown(), "count": row, "place": spot, "finds": finds}
    return render(request, "stock/counts/materials.html", context)


@require_POST
def take_back(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    row = count_of(request, number)
    found = get_object_or_404(selectors.finds_of(count=row), pk=pk)
    try:
        services.cancel_find(organisation=request.organisation, user=request.user, find=found)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request,
            gettext("%(quantity)s of %(material)s removed.")
            % {"quantity": said_count(found.quantity, "piece"), "material": found.material},
        )
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
            services.record_counts(
                organisation=organisation,
                user=request.user,
                count=row,
                counted=form.counted(),
                counted_at=form.cleaned_data["counted_at"],
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(request, gettext("Lot %(lot)s is entered.") % {"lot": one.lot})
            # From a label on to the next label.
            if "label" in request.GET:
                return redirect("stock:lot-short", one.lot.reference)
            return redirect("stock:count-review", row.number)
    # Whoever counts blind sees the books in the review, not beside the box.
    hidden = row.blind and row.is_open
    table = EntryTable(
        selectors.entries_of(line=one), organisation=organisation, exclude=["expected"] if hidden else []
    )
    paged(request, table, rows=ROWS)
    since = selectors.moves_since(line=one)[:ROWS] if row.is_open else ()
    context = {
        "count": row,
        "line": one,
        "form": form,
        "table": table,
        "difference": signed(one.difference or 0),
        "hidden": hidden,
        "since": [(moment(each.at), signed(each.quantity), each) for each in since],
        "held": holders_in_words(reservations_of_lots([one.lot_id])) if one.lot.reserved else "",
    }
    return render(request, "stock/counts/line.html", context)
