"""What changed: the list of an organisation, one act, and the list as a file."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from farmbuild.common.pages import ROWS
from farmbuild.common.paging import paged
from farmbuild.common.speaking import as_kept
from farmbuild.history import exports
from farmbuild.history.forms import HistoryFilter
from farmbuild.history.presenters import may_see_costs, record_words, shown
from farmbuild.history.selectors import entries_of_act, narrowed
from farmbuild.history.tables import EntryTable
from farmbuild.workbooks.services import XLSX


@require_GET
def changes(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    form = HistoryFilter(request.GET, organisation=organisation)
    asked = form.narrow()
    grouped = not {"kind", "record"} & asked.keys()
    rows = narrowed(organisation=organisation, **asked)
    table = paged(request, EntryTable(rows, organisation=organisation, costs=may_see_costs(request), grouped=grouped))
    newest = next(iter(table.page.object_list.data), None) if table.page.number == 1 else None
    context = {
        "table": table,
        "count": table.paginator.count,
        "newest": newest and newest.at,
        "record": newest and "record" in asked and record_words(newest),
        "filter_form": form,
        "is_filtered": bool(asked),
        "query": request.GET.urlencode(),
    }
    return render(request, "history/changes.html", context)


@require_GET
def act(request: HttpRequest, act: UUID) -> HttpResponse:
    entries = entries_of_act(organisation=request.organisation, act=act)
    page = Paginator(entries, ROWS).get_page(request.GET.get("page"))
    if not page.object_list:
        raise Http404
    rows = shown(page.object_list, request.organisation, costs=may_see_costs(request))
    context = {"rows": rows, "page": page, "first": rows[0], "count": page.paginator.count}
    return render(request, "history/act.html", context)


def _file(request: HttpRequest) -> dict[str, Any]:
    form = HistoryFilter(request.GET, organisation=request.organisation)
    entries = exports.newest(organisation=request.organisation, **form.narrow())
    return {"entries": entries, "organisation": request.organisation, "costs": may_see_costs(request)}


@require_GET
def workbook(request: HttpRequest) -> HttpResponse:
    with as_kept():
        data = exports.xlsx(**_file(request), today=timezone.localdate(timezone.now()))
    return HttpResponse(data, content_type=XLSX, headers=_named("what-changed.xlsx"))


@require_GET
def csv_text(request: HttpRequest) -> HttpResponse:
    with as_kept():
        data = exports.csv_text(**_file(request))
    return HttpResponse(data, content_type="text/csv; charset=utf-8", headers=_named("what-changed.csv"))


def _named(name: str) -> dict[str, str]:
    return {"Content-Disposition": content_disposition_header(True, name)}
