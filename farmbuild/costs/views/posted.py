"""What pages of rows that are charged by a price of the day share: list and proposals, a typed row, one taken back."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext

from farmbuild.common.forms import OrgForm
from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.common.tables import FarmTable
from farmbuild.costs.forms import TakeBackForm
from farmbuild.costs.models import Posted
from farmbuild.costs.presenters import proposed, read_seen, row_page

#: ``back`` of each is the name of the list, without its app: its template is called so too.
Service = Callable[..., Any]


def list_page(
    request: HttpRequest, rows: QuerySet, table_class: type[FarmTable], found: Iterable[Any], *, back: str
) -> HttpResponse:
    """``found``: what is proposed."""
    organisation = request.organisation
    table = paged(request, table_class(rows, organisation=organisation), rows=ROWS)
    context = {"table": table, "count": table.paginator.count, "proposed": proposed(found, organisation.currency)}
    return render(request, f"costs/{back}.html", context)


def typed_page(
    request: HttpRequest, form_class: type[OrgForm], charge: Service, *, title: str, words: str, back: str
) -> HttpResponse:
    form = form_class(request.POST or None, organisation=request.organisation, asked=request.GET)
    answer = save_form(
        request,
        form,
        lambda data: charge(**actor_kwargs(request), **data),
        message=gettext("Recorded: {}."),
        redirect_to=f"costs:{back}",
    )
    return answer or render(request, "costs/form.html", {"form": form, "title": title, "answer": words, "back": back})


def record_proposed(request: HttpRequest, charge: Service, *, message: str, back: str) -> HttpResponse:
    """What the page proposed, as it showed it."""
    return run_action(
        request,
        lambda: charge(**actor_kwargs(request), seen=read_seen(request.POST.get("seen", ""))),
        message=message,
        redirect_to=f"costs:{back}",
    )


def row_taken_back(
    request: HttpRequest, found: Posted, take_back: Service, parts: list[tuple[str, Any]], *, back: str, listed: str
) -> HttpResponse:
    """One row; posting takes it back. ``listed``: what its list is called."""
    form = TakeBackForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: take_back(**actor_kwargs(request), row=found, reason=data["reason"]),
        message=gettext("It is taken back."),
        redirect_to=f"costs:{back}",
    )
    page = row_page(found, parts) | {"form": form, "back": back, "list": listed}
    return answer or render(request, "costs/row.html", page)
