"""Pages that read lots from a file: send it, look at every row, store it."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from farmbuild.common.once import own_transactions
from farmbuild.common.pages import actor_kwargs, get_object_or_none
from farmbuild.measure import format_count
from farmbuild.orgs.clock import today_of
from farmbuild.stock import files, importing
from farmbuild.stock.forms import UploadForm
from farmbuild.stock.models import ImportDraft
from farmbuild.stock.preview import preview_rows
from farmbuild.stock.selectors import drafts_of
from farmbuild.stock.tasks import start_import
from farmbuild.workbooks.services import XLSX


def upload(request: HttpRequest) -> HttpResponse:
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = UploadForm(*sent, organisation=request.organisation)
    if form.is_valid():
        file = form.cleaned_data["file"]
        data = file.read()
        long = importing.is_long(data)
        keep = importing.keep_file if long else importing.make_draft
        try:
            draft = keep(
                organisation=request.organisation,
                user=request.user,
                data=data,
                filename=file.name,
                today=today_of(organisation=request.organisation),
            )
        except importing.WorkbookError as error:
            form.add_error("file", str(error))
        else:
            if long:
                start_import(draft=draft)
            return redirect("stock:import-preview", draft.pk)
    return render(request, "stock/import.html", {"form": form})


def _draft(request: HttpRequest, pk: int) -> ImportDraft:
    return get_object_or_404(drafts_of(organisation=request.organisation, user=request.user), pk=pk)


def preview(request: HttpRequest, pk: int) -> HttpResponse:
    draft = _draft(request, pk)
    if draft.is_under_way:
        return render(request, "stock/import_working.html", {"draft": draft, "open": draft.is_open_to_work})
    if not draft.is_read:
        return render(request, "stock/import_over.html", {"draft": draft})
    asked = importing.asked_of(draft)
    first = draft.bad_rows or asked
    only_first = first > 0 and request.GET.get("rows") != "all"
    page = Paginator(range(first if only_first else draft.rows), importing.PART).get_page(request.GET.get("page"))
    part = draft.parts.get(bad=only_first, number=page.number)
    context = {
        "draft": draft,
        "asked": asked,
        "first": first,
        "only_first": only_first,
        "page": page,
        "rows": preview_rows(part.rows, organisation=request.organisation),
    }
    return render(request, "stock/import_preview.html", context)


@require_POST
def store(request: HttpRequest, pk: int) -> HttpResponse:
    draft = get_object_or_none(drafts_of(organisation=request.organisation, user=request.user), pk=pk)
    who = actor_kwargs(request)
    try:
        if draft is None:
            raise importing.ImportStale(importing.GONE)
        if draft.rows > importing.MAX_ROWS_AT_ONCE:
            importing.confirm_draft(**who, draft=draft)
            start_import(draft=draft)
            return redirect("stock:import-preview", pk)
        count = importing.store_draft(**who, draft=draft)
    except importing.ImportStale as error:
        messages.error(request, str(error))
        return redirect("stock:import")
    messages.success(
        request, f"{format_count(count)} {'lot is' if count == 1 else 'lots are'} in stock from {draft.filename}."
    )
    return redirect("stock:lots")


@require_GET
def progress(request: HttpRequest, pk: int) -> JsonResponse:
    return JsonResponse(_draft(request, pk).progress)


@require_POST
@own_transactions
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """Start the work; the page asks how far it is."""
    draft = _draft(request, pk)
    start_import(draft=draft)
    if not request.accepts("text/html"):
        return JsonResponse(draft.progress)
    return redirect("stock:import-preview", pk)


@require_POST
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    draft = _draft(request, pk)
    reading = draft.confirmed_at is None
    if not importing.stop_draft(**actor_kwargs(request), draft=draft):
        messages.info(
            request, gettext("There was nothing to stop any more with %(filename)s.") % {"filename": draft.filename}
        )
        return redirect("stock:import-preview", pk)
    messages.success(
        request, gettext("%(filename)s was stopped; nothing of it is in stock.") % {"filename": draft.filename}
    )
    return redirect("stock:import") if reading else redirect("stock:import-preview", pk)


def template_xlsx(request: HttpRequest) -> HttpResponse:
    data = files.xlsx_template(organisation=request.organisation, today=today_of(organisation=request.organisation))
    return _download(data, XLSX, "lots.xlsx")


def template_csv(request: HttpRequest) -> HttpResponse:
    return _download(files.csv_template(), "text/csv; charset=utf-8", "lots.csv")


def _download(data: bytes, kind: str, name: str) -> HttpResponse:
    return HttpResponse(data, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})
