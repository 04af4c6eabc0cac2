"""Pages of a member: what it lends and borrows, and what the other of the two says of it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from farmbuild.common.pages import ROWS, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.members.seeing import as_member
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe import presenters, selectors, services
from farmbuild.coop.pipe.forms import BACK_FORMS, OwnPipeForm
from farmbuild.coop.pipe.tables import OwnPipeTable
from farmbuild.crew.models import Member

ASKS = ["GET", "HEAD", "POST"]
AGREED, REFUSED = _("It counts."), _("The other member sees that it is not so.")


def _page(request: HttpRequest, name: str, member: Member, context: dict[str, Any]) -> HttpResponse:
    base = {"member": member, "lender": member.organisation}
    return render(request, f"coop/pipe/seen/{name}.html", base | context)


def _at(member: Member, loan: PipeLoan) -> str:
    return reverse("coop:seen-pipe", args=[member.organisation.slug, loan.pk])


def _return_at(member: Member, row: PipeReturn) -> str:
    return reverse("coop:seen-pipe-return", args=[member.organisation.slug, row.pk])


def _loan(member: Member, pk: int) -> PipeLoan:
    return get_object_or_404(selectors.pipe_of_member(member=member), pk=pk)


def _return(member: Member, pk: int) -> PipeReturn:
    return get_object_or_404(selectors.returns_with(member=member), pk=pk)


@require_safe
@as_member
def show_all(request: HttpRequest, member: Member) -> HttpResponse:
    organisation = member.organisation
    rows = selectors.pipe_of_member(member=member)
    table = paged(request, OwnPipeTable(rows, organisation=organisation, member=member), rows=ROWS)
    page = presenters.own_pipe(member=member)
    return _page(request, "list", member, {"page": page, "table": table, "count": table.paginator.count})


@require_http_methods(ASKS)
@as_member
def tell(request: HttpRequest, member: Member) -> HttpResponse:
    known = selectors.dealt_with(member=member)
    form = OwnPipeForm(request.POST or None, organisation=member.organisation, member=member, known=known)
    answer = save_form(
        request,
        form,
        lambda data: services.tell_pipe(member=member, user=request.user, new=form.new),
        message=gettext("It is told, and counts once the other member agrees."),
        redirect_to=reverse("coop:seen-pipe-list", args=[member.organisation.slug]),
    )
    return answer or _page(request, "new", member, {"form": form})


@require_safe
@as_member
def show(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    return _page(request, "loan", member, {"page": presenters.loan_page(_loan(member, pk), member=member)})


@require_POST
@as_member
def agree(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    loan = _loan(member, pk)
    return run_action(
        request,
        lambda: services.agree_to_pipe(member=member, user=request.user, loan=loan),
        message=str(AGREED),
        redirect_to=_at(member, loan),
    )


@require_POST
@as_member
def refuse(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    """By whoever is asked, or by whoever told it."""
    loan = _loan(member, pk)
    return run_action(
        request,
        lambda: services.withdraw_told(member=member, user=request.user, row=loan),
        message=str(REFUSED),
        redirect_to=_at(member, loan),
    )


@require_http_methods(ASKS)
@as_member
def settle(request: HttpRequest, member: Member, pk: int, how: str) -> HttpResponse:
    loan = _loan(member, pk)
    form = BACK_FORMS[how](request.POST or None, organisation=member.organisation, loan=loan, told=False)
    answer = save_form(
        request,
        form,
        lambda data: services.tell_return(member=member, user=request.user, loan=loan, new=form.new),
        message=gettext("It is told, and counts once the other member agrees."),
        redirect_to=_at(member, loan),
    )
    return answer or _page(request, "return_new", member, {"form": form, "loan": loan, "how": how})


@require_safe
@as_member
def show_return(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    return _page(request, "return", member, presenters.return_page(_return(member, pk), member=member))


@require_POST
@as_member
def agree_to_return(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    row = _return(member, pk)
    return run_action(
        request,
        lambda: services.agree_to_return(member=member, user=request.user, row=row),
        message=str(AGREED),
        redirect_to=_at(member, row.loan),
        refused_redirect_to=_return_at(member, row),
    )


@require_POST
@as_member
def refuse_return(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    row = _return(member, pk)
    return run_action(
        request,
        lambda: services.withdraw_told(member=member, user=request.user, row=row),
        message=str(REFUSED),
        redirect_to=_at(member, row.loan),
        refused_redirect_to=_return_at(member, row),
    )
