"""Pages of pipe between members for whoever runs the cooperative."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe import presenters, selectors, services
from farmbuild.coop.pipe.forms import BACK_FORMS, BetweenForm, ReasonForm, WhoseForm
from farmbuild.coop.pipe.tables import MoneyTable, OwedTable, PipeTable

#: Pairs that stand on one page.
PAIRS = 10
ASKS = ["GET", "HEAD", "POST"]


@require_safe
def show_all(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    whose = WhoseForm(request.GET or None, organisation=organisation)
    member = whose.cleaned_data["member"] if whose.is_bound and whose.is_valid() else None
    page = presenters.all_pipe(organisation=organisation, member=member)
    rows = selectors.pipe_shown(organisation=organisation, member=member)
    table = paged(request, PipeTable(rows, organisation=organisation), rows=ROWS)
    context = {
        "page": page,
        "whose": whose,
        "member": member,
        "owed": paged(request, OwedTable(page.owed, organisation=organisation, prefix="o-"), rows=PAIRS),
        "money": paged(request, MoneyTable(page.money, organisation=organisation, prefix="m-"), rows=PAIRS),
        "table": table,
        "count": table.paginator.count,
    }
    return render(request, "coop/pipe/list.html", context)


def _at(loan: PipeLoan) -> str:
    return reverse("coop:pipe", args=[loan.pk])


def _loan(request: HttpRequest, pk: int) -> PipeLoan:
    return get_object_or_404(selectors.pipe_of(organisation=request.organisation), pk=pk)


def _return(request: HttpRequest, pk: int) -> PipeReturn:
    return get_object_or_404(selectors.every_return(organisation=request.organisation), pk=pk)


@require_http_methods(ASKS)
def record(request: HttpRequest) -> HttpResponse:
    form = BetweenForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.record_pipe(**actor_kwargs(request), new=form.new),
        message=gettext("Recorded: {}."),
        redirect_to="coop:pipe-list",
    )
    return answer or render(request, "coop/pipe/new.html", {"form": form})


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "coop/pipe/loan.html", {"page": presenters.loan_page(_loan(request, pk))})


def _ask(request: HttpRequest, context: dict[str, Any]) -> HttpResponse:
    return render(request, "coop/pipe/ask.html", context)


@require_http_methods(ASKS)
def agree(request: HttpRequest, pk: int) -> HttpResponse:
    """For a member who said so without signing in."""
    loan = _loan(request, pk)
    if request.method == "POST":
        return run_action(
            request,
            lambda: services.agree_for_member(**actor_kwargs(request), row=loan),
            message=gettext("It counts."),
            redirect_to=_at(loan),
        )
    # Where nobody is asked any more, its own page says how it stands.
    return _ask(request, presenters.agreeing(loan, _at(loan))) if loan.asked_of else redirect(_at(loan))


@require_http_methods(ASKS)
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    loan = _loan(request, pk)
    form = ReasonForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_pipe_back(**actor_kwargs(request), loan=loan, **data),
        message=gettext("It is taken back."),
        redirect_to=_at(loan),
    )
    return answer or _ask(request, presenters.taking_back(loan, _at(loan)) | {"form": form})


@require_http_methods(ASKS)
def settle(request: HttpRequest, pk: int, how: str) -> HttpResponse:
    """What came back, or came instead, or is turned into money."""
    loan = _loan(request, pk)
    form = BACK_FORMS[how](request.POST or None, organisation=request.organisation, loan=loan, told=True)
    answer = save_form(
        request,
        form,
        lambda data: services.record_return(**actor_kwargs(request), loan=loan, new=form.new),
        message=gettext("The return is recorded."),
        redirect_to=_at(loan),
    )
    return answer or render(request, "coop/pipe/return_new.html", {"form": form, "loan": loan, "how": how})


@require_safe
def show_return(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "coop/pipe/return.html", presenters.return_page(_return(request, pk)))


def _return_at(row: PipeReturn) -> str:
    return reverse("coop:pipe-return", args=[row.pk])


@require_http_methods(ASKS)
def agree_to_return(request: HttpRequest, pk: int) -> HttpResponse:
    row = _return(request, pk)
    if request.method == "POST":
        return run_action(
            request,
            lambda: services.agree_for_member(**actor_kwargs(request), row=row),
            message=gettext("It counts."),
            redirect_to=_at(row.loan),
            refused_redirect_to=_return_at(row),
        )
    return _ask(request, presenters.agreeing(row, _return_at(row))) if row.asked_of else redirect(_return_at(row))


@require_http_methods(ASKS)
def take_return_back(request: HttpRequest, pk: int) -> HttpResponse:
    row = _return(request, pk)
    form = ReasonForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_return_back(**actor_kwargs(request), row=row, **data),
        message=gettext("It is taken back."),
        redirect_to=_at(row.loan),
    )
    return answer or _ask(request, presenters.taking_back(row, _return_at(row)) | {"form": form})
