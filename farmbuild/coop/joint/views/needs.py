"""Pages on which what members need is put in, changed, taken out, and collected from plans."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.pages import actor_kwargs, run_action, save_form
from farmbuild.coop.joint import services
from farmbuild.coop.joint.entering import collect_plans, put_all_in
from farmbuild.coop.joint.forms import CollectForm, NeedsForm, PiecesForm
from farmbuild.coop.joint.presenters.collecting import plans_offered
from farmbuild.coop.joint.presenters.joint import need_or_none
from farmbuild.coop.joint.views.joints import joint_or_404, open_or_redirect
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.bookings.selectors import members_of


def put_in(request: HttpRequest, number: int) -> HttpResponse:
    """One material, and the pieces of every member."""
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    members = list(members_of(organisation=request.organisation))
    form = NeedsForm(request.POST or None, organisation=request.organisation, members=members)
    answer = save_form(
        request,
        form,
        lambda data: put_all_in(**actor_kwargs(request), joint=joint, **data),
        message=gettext("It is put in."),
        redirect_to=joint,
    )
    return answer or render(request, "coop/joint/needs.html", {"joint": joint, "form": form, "members": members})


def _need(joint: JointOrder, pk: int) -> JointNeed:
    need = need_or_none(joint=joint, pk=pk)
    if need is None:
        raise Http404("Not a need of this joint order.")
    return need


def _store(request: HttpRequest, need: JointNeed, quantity: int) -> JointNeed | None:
    return services.put_in(
        **actor_kwargs(request),
        joint=need.joint,
        member=need.member,
        material=need.material,
        length=need.length,
        quantity=quantity,
    )


def change(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    need = _need(joint, pk)
    form = PiecesForm(request.POST or None, organisation=request.organisation, initial={"quantity": need.quantity})
    answer = save_form(
        request,
        form,
        lambda data: _store(request, need, data["quantity"]),
        message=gettext("It is saved."),
        redirect_to=joint,
    )
    context = {
        "joint": joint,
        "need": need,
        "form": form,
        "what": item_words(need.material, need.length, request.organisation),
    }
    return answer or render(request, "coop/joint/need.html", context)


@require_POST
def remove(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    need = _need(joint, pk)
    return run_action(
        request,
        lambda: _store(request, need, 0),
        message=gettext("%(member)s needs none of it any more.") % {"member": need.member},
        redirect_to=joint,
    )


def collect(request: HttpRequest, number: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    offered = plans_offered(joint=joint)
    form = CollectForm(request.POST or None, organisation=request.organisation, offered=offered)
    answer = save_form(
        request,
        form,
        lambda data: collect_plans(**actor_kwargs(request), joint=joint, **data),
        message=gettext("What the plans buy is put in."),
        redirect_to=joint,
    )
    return answer or render(request, "coop/joint/collect.html", {"joint": joint, "form": form, "offered": offered})
