"""Pages that read a filled-in sheet of a count: send it, look at every row, enter it."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import get_object_or_none
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import moment
from farmbuild.stock.counts import importing
from farmbuild.stock.counts.forms import SheetUploadForm
from farmbuild.stock.counts.selectors import drafts_of
from farmbuild.stock.counts.views.counts import count_of
from farmbuild.stock.models import CountDraft

#: Rows on one page of the preview.
ROWS = 100


def upload(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = SheetUploadForm(*sent, organisation=request.organisation)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            draft = importing.make_draft(
                organisation=request.organisation,
                user=request.user,
                count=row,
                data=file.read(),
                filename=file.name,
                counted_at=form.cleaned_data["counted_at"],
            )
        except importing.WorkbookError as error:
            form.add_error("file", str(error))
        else:
            return redirect("stock:count-import-preview", row.number, draft.pk)
    return render(request, "stock/counts/import.html", {"form": form, "count": row})


def _draft(request: HttpRequest, number: int, pk: int) -> CountDraft:
    return get_object_or_404(_drafts(request, number), pk=pk)


def _drafts(request: HttpRequest, number: int) -> QuerySet[CountDraft]:
    return drafts_of(organisation=request.organisation, user=request.user, number=number)


def preview(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    draft = _draft(request, number, pk)
    page = Paginator(draft.rows, ROWS).get_page(request.GET.get("page"))
    context = {
        "draft": draft,
        "count": draft.count,
        "page": page,
        "lots": len(draft.rows),
        "counted_at": draft.counted_at and moment(draft.counted_at),
    }
    return render(request, "stock/counts/import_preview.html", context)


@require_POST
def store(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    row = count_of(request, number)
    draft = get_object_or_none(_drafts(request, number), pk=pk) or CountDraft(pk=pk)
    try:
        entered = importing.store_draft(organisation=request.organisation, user=request.user, draft=draft)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("stock:count-import", row.number)
    messages.success(request, gettext("%(entered)s entered from the sheet.") % {"entered": said_count(entered, "lot")})
    return redirect("stock:count-review", row.number)
