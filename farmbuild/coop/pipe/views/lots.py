"""Pages of a member: its lots in the common yard, and who may take of them."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from farmbuild.common.pages import ROWS, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.members.seeing import as_member
from farmbuild.coop.pipe import own, presenters, selectors
from farmbuild.coop.pipe.forms import OwnLeaveForm
from farmbuild.coop.pipe.tables import OwnLotTable
from farmbuild.crew.models import Member
from farmbuild.stock.models import Lot

ASKS = ["GET", "HEAD", "POST"]


def _page(request: HttpRequest, name: str, member: Member, context: dict[str, Any]) -> HttpResponse:
    base = {"member": member, "lender": member.organisation}
    return render(request, f"coop/pipe/seen/{name}.html", base | context)


def _lot(member: Member, pk: int) -> Lot:
    return get_object_or_404(selectors.own_lots(member=member), pk=pk)


def _at(member: Member, pk: int) -> str:
    return reverse("coop:seen-lot", args=[member.organisation.slug, pk])


@require_safe
@as_member
def show_all(request: HttpRequest, member: Member) -> HttpResponse:
    page = presenters.own_lots_page(member=member)
    table = paged(request, OwnLotTable(page.rows, organisation=member.organisation), rows=ROWS)
    return _page(request, "lots", member, {"page": page, "table": table, "count": table.paginator.count})


@require_safe
@as_member
def show(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    return _page(request, "lot", member, presenters.lot_page(_lot(member, pk)))


@require_http_methods(ASKS)
@as_member
def give(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    lot = _lot(member, pk)
    known = selectors.dealt_with(member=member)
    form = OwnLeaveForm(request.POST or None, organisation=member.organisation, member=member, known=known)
    answer = save_form(
        request,
        form,
        lambda data: own.give_own_leave(member=member, user=request.user, lot=lot, **data),
        message=gettext("The leave is given."),
        redirect_to=_at(member, pk),
    )
    return answer or _page(request, "leave", member, presenters.lot_page(lot) | {"form": form})


@require_http_methods(ASKS)
@as_member
def end(request: HttpRequest, member: Member, pk: int) -> HttpResponse:
    """Asks first."""
    leave = get_object_or_404(selectors.own_leaves(member=member), pk=pk)
    if request.method == "POST":
        return run_action(
            request,
            lambda: own.end_own_leave(member=member, user=request.user, leave=leave),
            message=gettext("The leave has ended."),
            redirect_to=_at(member, leave.lot_id),
        )
    return _page(request, "leave_end", member, presenters.leave_page(leave))
