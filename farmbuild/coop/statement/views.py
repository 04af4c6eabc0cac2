"""Pages of members' accounts for the manager: all of them, one, payments, and statements that went out."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_safe

from farmbuild.common.pages import ROWS, actor_kwargs, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.charges.forms import BackForm
from farmbuild.coop.charges.selectors import entries_to_show
from farmbuild.coop.models import SentStatement
from farmbuild.coop.statement import files, payments, presenters, selectors, services
from farmbuild.coop.statement.forms import DaysForm, PaymentForm, SendForm
from farmbuild.coop.statement.frozen import frozen_statement
from farmbuild.coop.statement.tables import AccountTable, LineTable, SentTable
from farmbuild.coop.statement.taking_back import take_back
from farmbuild.crew.models import Member
from farmbuild.orgs.answers.pages import kept_page
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.services import XLSX

PDF, ZIP = "application/pdf", "application/zip"


def attachment(data: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(data, content_type=kind)
    response.headers["Content-Disposition"] = content_disposition_header(True, name)
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response


def days_asked(request: HttpRequest, organisation: Organisation) -> tuple[DaysForm, date, date]:
    """The days of the address, with the form that asks for them."""
    form = DaysForm(request.GET or None, organisation=organisation)
    return form, *presenters.days_shown(form, organisation=organisation)


def with_tables(request: HttpRequest, page: dict[str, Any], organisation: Organisation, kind: type[LineTable]) -> dict:
    """The page, with a table for each of its parts."""
    tables = [
        (part.title, paged(request, kind(part.rows, organisation=organisation, prefix=f"{at}-"), rows=None))
        for at, part in enumerate(page["parts"])
    ]
    return page | {"tables": tables}


@require_GET
@kept_page("accounts")
def accounts(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    form, first, last = days_asked(request, organisation)
    page = presenters.accounts_page(organisation=organisation, first=first, last=last)
    table = paged(request, AccountTable(page["rows"], organisation=organisation), rows=ROWS)
    context = page | {"table": table, "days_form": form, "query": request.GET.urlencode()}
    return render(request, "coop/statement/accounts.html", context)


def _all_shown(request: HttpRequest) -> list[dict]:
    organisation = request.organisation
    _, first, last = days_asked(request, organisation)
    found = selectors.statements_of(organisation=organisation, first=first, last=last)
    return [frozen_statement(one, organisation=organisation) for one in found]


@require_safe
def accounts_workbook(request: HttpRequest) -> HttpResponse:
    shown = _all_shown(request)
    if not shown:
        return redirect("coop:accounts")
    return attachment(files.all_workbook("Accounts of members", shown), XLSX, "members-accounts.xlsx")


@require_safe
def accounts_pdfs(request: HttpRequest) -> HttpResponse:
    named = files.named(_all_shown(request))
    if not named:
        return redirect("coop:accounts")
    return attachment(files.all_pdfs(named), ZIP, "members-accounts.zip")


def _member(request: HttpRequest, slug: str) -> Member:
    return get_object_or_404(selectors.members_of(organisation=request.organisation), slug=slug)


@require_GET
def account(request: HttpRequest, slug: str) -> HttpResponse:
    member, organisation = _member(request, slug), request.organisation
    form, first, last = days_asked(request, organisation)
    statement = selectors.statement_of(member=member, first=first, last=last)
    table = paged(request, SentTable(selectors.sent_to(member=member), organisation=organisation), rows=ROWS)
    page = presenters.statement_page(statement, organisation=organisation)
    context = with_tables(request, page, organisation, LineTable) | {
        "member": member,
        "days_form": form,
        "query": request.GET.urlencode(),
        "sent": table,
        "sent_count": table.paginator.count,
    }
    return render(request, "coop/statement/account.html", context)


def _shown(request: HttpRequest, slug: str) -> dict:
    member = _member(request, slug)
    _, first, last = days_asked(request, request.organisation)
    statement = selectors.statement_of(member=member, first=first, last=last)
    return frozen_statement(statement, organisation=request.organisation)


@require_safe
def account_pdf(request: HttpRequest, slug: str) -> HttpResponse:
    return attachment(files.statement_pdf(_shown(request, slug)), PDF, f"account-{slug}.pdf")


@require_safe
def account_workbook(request: HttpRequest, slug: str) -> HttpResponse:
    return attachment(files.statement_workbook(_shown(request, slug)), XLSX, f"account-{slug}.xlsx")


@require_http_methods(["GET", "HEAD", "POST"])
def payment(request: HttpRequest, slug: str) -> HttpResponse:
    member = _member(request, slug)
    form = PaymentForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: payments.record_payment(**actor_kwargs(request), member=member, **data),
        message=gettext("Recorded: {}."),
        redirect_to=reverse("coop:account", args=[slug]),
    )
    owes = selectors.balances_of(organisation=request.organisation).get(member.pk)
    return answer or render(request, "coop/statement/payment.html", {"member": member, "form": form, "owes": owes})


@require_http_methods(["GET", "HEAD", "POST"])
def send(request: HttpRequest, slug: str) -> HttpResponse:
    member, organisation = _member(request, slug), request.organisation
    form = SendForm(request.POST or None, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.send_statement(**actor_kwargs(request), member=member, **data),
        message=gettext("{} is numbered and stays as it is."),
        redirect_to=reverse("coop:account", args=[slug]),
    )
    today = today_of(organisation=organisation)
    context = {
        "member": member,
        "form": form,
        "before": selectors.last_sent_of(member=member),
        "first": selectors.unsent_from(member=member, day=today),
    }
    return answer or render(request, "coop/statement/send.html", context)


def _sent(request: HttpRequest, number: int) -> SentStatement:
    return get_object_or_404(selectors.sent_of(organisation=request.organisation), number=number)


@require_GET
def statement(request: HttpRequest, number: int) -> HttpResponse:
    row = _sent(request, number)
    page = with_tables(request, presenters.sent_page(row), request.organisation, LineTable)
    context = page | {"row": row, "member": row.member}
    return render(request, "coop/statement/statement.html", context)


@require_safe
def statement_pdf(request: HttpRequest, number: int) -> HttpResponse:
    return sent_file(_sent(request, number), "pdf")


@require_safe
def statement_workbook(request: HttpRequest, number: int) -> HttpResponse:
    return sent_file(_sent(request, number), "workbook")


def sent_file(row: SentStatement, name: str) -> HttpResponse:
    """As it went out."""
    kind, ending = (PDF, "pdf") if name == "pdf" else (XLSX, "xlsx")
    return attachment(selectors.file_of(statement=row, name=name), kind, f"{row.reference}.{ending}")


@require_http_methods(["GET", "HEAD", "POST"])
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    """One line of an account; posting takes it back."""
    found = get_object_or_404(entries_to_show(organisation=request.organisation), pk=pk)
    form = BackForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: take_back(**actor_kwargs(request), entry=found, reason=data["reason"]),
        message=gettext("It is taken back."),
        redirect_to=reverse("coop:entry", args=[pk]),
    )
    return answer or render(request, "coop/statement/entry.html", presenters.entry_page(found) | {"form": form})
