"""Pages of a member: joint orders open to it, its own needs, and what it got and owes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from farmbuild.common.pages import run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.joint import own, selectors
from farmbuild.coop.joint.forms import OwnNeedForm, PiecesForm, SeenForm, TakeOverForm
from farmbuild.coop.joint.presenters.seen import own_need_or_none, plan_page, seen_answer, seen_page, seen_rows
from farmbuild.coop.joint.tables import OwnGoodsTable, OwnJointTable, PlanTable
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.members.seeing import as_member
from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of


def _joint(member: Member, number: int) -> JointOrder:
    return get_object_or_404(selectors.joints_of_member(member=member), number=number)


def _page(request: HttpRequest, name: str, member: Member, context: dict[str, Any]) -> HttpResponse:
    base = {"member": member, "lender": member.organisation}
    return render(request, f"coop/joint/seen/{name}.html", base | context)


def _at(member: Member, joint: JointOrder) -> str:
    return reverse("coop:seen-joint", args=[member.organisation.slug, joint.number])


def _closed(request: HttpRequest, member: Member, joint: JointOrder) -> HttpResponse | None:
    """Where to go instead once its closing day is over."""
    if selectors.state_of(joint).code == "open":
        return None
    messages.error(request, gettext("Its closing day is over, so what you need of it stays as it is."))
    return redirect(_at(member, joint))


@require_safe
@as_member
def joints(request: HttpRequest, member: Member) -> HttpResponse:
    rows = list(selectors.joints_of_member(member=member))
    table = OwnJointTable(seen_rows(rows, member), organisation=member.organisation)
    paged(request, table)
    today = today_of(organisation=member.organisation)
    context = {"table": table, "count": table.paginator.count, "answer": seen_answer(rows, today)}
    return _page(request, "list", member, context)


@require_safe
@as_member
def joint(request: HttpRequest, member: Member, number: int) -> HttpResponse:
    row = _joint(member, number)
    page = seen_page(joint=row, member=member)
    hidden = () if page.has_come else ("due", "handed")
    table = OwnGoodsTable(page.goods, organisation=member.organisation, exclude=hidden) if page.goods else None
    to_take = bool(request.organisation) and selectors.still_to_take_over(row, member)
    return _page(request, "joint", member, {"joint": row, "page": page, "goods": table, "to_take": to_take})


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def put_in(request: HttpRequest, member: Member, number: int) -> HttpResponse:
    row = _joint(member, number)
    if away := _closed(request, member, row):
        return away
    form = OwnNeedForm(request.POST or None, organisation=member.organisation)
    answer = save_form(
        request,
        form,
        lambda data: own.put_in_own(member=member, user=request.user, joint=row, **data),
        message=gettext("It is put in."),
        redirect_to=_at(member, row),
    )
    return answer or _page(request, "need", member, {"joint": row, "form": form})


def _need(member: Member, row: JointOrder, pk: int) -> JointNeed:
    need = own_need_or_none(joint=row, member=member, pk=pk)
    if need is None:
        raise Http404("Not a need of this member.")
    return need


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def change(request: HttpRequest, member: Member, number: int, pk: int) -> HttpResponse:
    row = _joint(member, number)
    need = _need(member, row, pk)
    if away := _closed(request, member, row):
        return away
    begin = {"quantity": need.quantity}
    form = PiecesForm(request.POST or None, organisation=member.organisation, initial=begin)
    answer = save_form(
        request,
        form,
        lambda data: _store(request, member, need, data["quantity"]),
        message=gettext("It is saved."),
        redirect_to=_at(member, row),
    )
    what = item_words(need.material, need.length, member.organisation)
    return answer or _page(request, "need", member, {"joint": row, "form": form, "need": need, "what": what})


def _store(request: HttpRequest, member: Member, need: JointNeed, quantity: int) -> JointNeed | None:
    return own.put_in_own(
        member=member,
        user=request.user,
        joint=need.joint,
        material=need.material,
        length=need.length,
        quantity=quantity,
    )


@require_POST
@as_member
def withdraw(request: HttpRequest, member: Member, number: int, pk: int) -> HttpResponse:
    row = _joint(member, number)
    need = _need(member, row, pk)
    return run_action(
        request,
        lambda: _store(request, member, need, 0),
        message=gettext("It is withdrawn."),
        redirect_to=_at(member, row),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def from_plan(request: HttpRequest, member: Member, number: int) -> HttpResponse:
    """What the member's own accepted plan buys; what is shown is put in."""
    row = _joint(member, number)
    if away := _closed(request, member, row):
        return away
    found = plan_page(joint=row, member=member)
    form = SeenForm(request.POST or None, organisation=member.organisation)
    answer = found.number and save_form(
        request,
        form,
        lambda data: own.put_plan_in(member=member, user=request.user, joint=row, plan=found.number, **data),
        message=gettext("What your plan buys is put in."),
        redirect_to=_at(member, row),
    )
    context = {
        "joint": row,
        "plan": found,
        "form": form.shown(found.seen),
        "table": PlanTable(found.rows, organisation=member.organisation) if found.rows else None,
    }
    return answer or _page(request, "plan", member, context)


@require_http_methods(["GET", "HEAD", "POST"])
@as_member
def take_over(request: HttpRequest, member: Member, number: int) -> HttpResponse:
    """What was handed out comes into the stock of the member's farm, once."""
    row = _joint(member, number)
    rows = selectors.still_to_take_over(row, member)
    if not rows:
        messages.info(request, gettext("All that was handed out to you is in your stock."))
        return redirect(_at(member, row))
    form = TakeOverForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: own.take_over_at(member=member, user=request.user, joint=row, **data),
        message=gettext("It is in your stock."),
        redirect_to=_at(member, row),
    )
    context = {"joint": row, "form": form, "pieces": selectors.pieces_of(rows)}
    return answer or _page(request, "take_over", member, context)
