"""Pages of the split, of what one member gets, and of handing it out."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.coop.joint import selectors, services
from farmbuild.coop.joint.files import handing_list_pdf, handing_list_workbook
from farmbuild.coop.joint.forms import BackForm, ChargeForm, HandOutForm
from farmbuild.coop.joint.presenters.split import share_of, sheet_of, split_page
from farmbuild.coop.joint.split_files import split_pdf, split_workbook
from farmbuild.coop.joint.tables import GoodsTable, SplitTable
from farmbuild.coop.joint.views.joints import closed_or_404, joint_or_404
from farmbuild.crew.bookings.selectors import any_member_of
from farmbuild.workbooks.services import XLSX

PDF = "application/pdf"


def split(request: HttpRequest, number: int) -> HttpResponse:
    """What each owes; what is posted is what was shown."""
    joint = closed_or_404(request, number)
    form = ChargeForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.charge_members(**actor_kwargs(request), joint=joint, **data),
        message=gettext("It stands in the members’ accounts."),
        redirect_to=joint,
    )
    if answer:
        return answer
    shown = split_page(joint=joint)
    context = {
        "joint": joint,
        "shown": shown,
        "table": SplitTable(shown.rows, organisation=request.organisation),
        "form": form.shown(shown.seen) if shown.to_post else None,
    }
    return render(request, "coop/joint/split.html", context)


@require_safe
def split_as_pdf(request: HttpRequest, number: int) -> HttpResponse:
    joint = closed_or_404(request, number)
    return _file(split_pdf(sheet_of(joint=joint)), PDF, f"split-{joint.number}.pdf")


@require_safe
def split_as_workbook(request: HttpRequest, number: int) -> HttpResponse:
    joint = closed_or_404(request, number)
    return _file(split_workbook(sheet_of(joint=joint)), XLSX, f"split-{joint.number}.xlsx")


@require_safe
def list_as_pdf(request: HttpRequest, number: int) -> HttpResponse:
    """By which pieces are handed out, without prices."""
    joint = closed_or_404(request, number)
    return _file(handing_list_pdf(joint), PDF, f"handing-out-{joint.number}.pdf")


@require_safe
def list_as_workbook(request: HttpRequest, number: int) -> HttpResponse:
    joint = closed_or_404(request, number)
    return _file(handing_list_workbook(joint), XLSX, f"handing-out-{joint.number}.xlsx")


def _file(data: bytes, kind: str, name: str) -> HttpResponse:
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(data, content_type=kind, headers=headers)


def share(request: HttpRequest, number: int, slug: str) -> HttpResponse:
    """Of one member: what came for it, and the form by which it is handed out."""
    joint = closed_or_404(request, number)
    member = get_object_or_404(any_member_of(organisation=request.organisation), slug=slug)
    shown = share_of(joint=joint, member=member)
    form = HandOutForm(request.POST or None, organisation=request.organisation, rows=shown.waiting)
    answer = save_form(
        request,
        form,
        lambda data: services.hand_out(**actor_kwargs(request), joint=joint, member=member, **data),
        message=gettext("It is handed out to %(member)s.") % {"member": member},
        redirect_to=reverse("coop:joint-share", args=[joint.number, member.slug]),
    )
    context: dict[str, Any] = {
        "joint": joint,
        "member": member,
        "shown": shown,
        "goods": GoodsTable(shown.goods, organisation=request.organisation) if shown.goods else None,
        "form": form if shown.waiting else None,
    }
    return answer or render(request, "coop/joint/share.html", context)


def take_back(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    handout = get_object_or_404(selectors.standing_handouts(joint), pk=pk)
    form = BackForm(
        request.POST or None, organisation=request.organisation, example=gettext("it was another member’s pile")
    )
    answer = save_form(
        request,
        form,
        lambda data: services.take_handout_back(**actor_kwargs(request), handout=handout, **data),
        message=gettext("It is taken back."),
        redirect_to=reverse("coop:joint-share", args=[joint.number, handout.member.slug]),
    )
    context = {
        "form": form,
        "joint": joint,
        "title": gettext("Take back what %(member)s was handed out") % {"member": handout.member},
        "answer": gettext("%(handout)s: the pieces lie in stock again.") % {"handout": handout},
        "button": gettext("Take it back"),
    }
    return answer or render(request, "coop/joint/back.html", context)
