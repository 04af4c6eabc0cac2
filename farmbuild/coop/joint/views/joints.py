"""Pages of joint orders: the list, one of them, begun, edited and called off."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from farmbuild.common.pages import OrgList, actor_kwargs, save_form
from farmbuild.common.paging import paged
from farmbuild.coop.joint import selectors, services
from farmbuild.coop.joint.forms import BackForm, JointForm, PlacesForm
from farmbuild.coop.joint.presenters.joint import joint_page, list_answer, listed, states_of
from farmbuild.coop.joint.tables import JointTable, NeedTable, ShareTable
from farmbuild.coop.models import JointOrder
from farmbuild.sites.selectors import sites_of

ROWS_OF_NEEDS = 100


def joint_or_404(request: HttpRequest, number: int) -> JointOrder:
    return get_object_or_404(selectors.joints_of(organisation=request.organisation), number=number)


def closed_or_404(request: HttpRequest, number: int) -> JointOrder:
    """One of which something was ordered."""
    joint = joint_or_404(request, number)
    if joint.closed_at is None:
        raise Http404("Nothing of it is ordered yet.")
    return joint


def open_or_redirect(request: HttpRequest, joint: JointOrder) -> HttpResponse | None:
    """Where to go instead when it takes no more."""
    if joint.closed_at is None and joint.ended_at is None:
        return None
    words = (
        gettext("%(joint)s is closed, so it stays as it is.")
        if joint.closed_at
        else gettext("%(joint)s is called off, so it stays as it is.")
    )
    messages.error(request, words % {"joint": joint})
    return redirect("coop:joint", joint.number)


class JointList(OrgList):
    table_class = JointTable
    template_name = "coop/joint/list.html"
    rows = listed

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        organisation = self.request.organisation
        context["table"].states = states_of([row.record for row in context["table"].paginated_rows])
        return context | {"answer": list_answer(organisation=organisation)}


@require_safe
def show(request: HttpRequest, number: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    page = joint_page(joint=joint)
    needs = NeedTable(page.needs, joint=joint, changes=page.is_open, organisation=request.organisation)
    shares = ShareTable(page.shares, organisation=request.organisation)
    if page.needs:
        paged(request, needs, rows=ROWS_OF_NEEDS)
    context = {
        "joint": joint,
        "page": page,
        "needs": needs if page.needs else None,
        "shares": shares if page.shares else None,
    }
    return render(request, "coop/joint/joint.html", context)


def new(request: HttpRequest) -> HttpResponse:
    form = JointForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_joint(**actor_kwargs(request), **data),
        message=gettext("{} is begun."),
    )
    context = {"form": form, "sites": sites_of(organisation=request.organisation).exists()}
    return answer or render(request, "coop/joint/form.html", context)


def edit(request: HttpRequest, number: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    form = JointForm(request.POST or None, organisation=request.organisation, instance=joint)
    answer = save_form(
        request,
        form,
        lambda data: services.change_joint(**actor_kwargs(request), joint=joint, **data),
        message=gettext("{} is saved."),
        redirect_to=joint,
    )
    return answer or render(request, "coop/joint/form.html", {"form": form, "joint": joint, "sites": True})


def order_members(request: HttpRequest, number: int) -> HttpResponse:
    """In which order members are listed: the first bear what cannot be shared out evenly."""
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    form = PlacesForm(request.POST or None, organisation=request.organisation, listed=selectors.members_of(joint))
    answer = save_form(
        request,
        form,
        lambda data: services.order_members(**actor_kwargs(request), joint=joint, **data),
        message=gettext("The order of the members is saved."),
        redirect_to=joint,
    )
    return answer or render(request, "coop/joint/members.html", {"joint": joint, "form": form})


def call_off(request: HttpRequest, number: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    form = BackForm(
        request.POST or None, organisation=request.organisation, example=gettext("the pipe is bought elsewhere")
    )
    answer = save_form(
        request,
        form,
        lambda data: services.call_off_joint(**actor_kwargs(request), joint=joint, **data),
        message=gettext("{} is called off."),
        redirect_to="coop:joints",
    )
    context = {
        "form": form,
        "joint": joint,
        "title": gettext("Call off %(joint)s") % {"joint": joint},
        "answer": gettext("Nothing of it is ordered. What members need of it stays to be read."),
        "button": gettext("Call it off"),
    }
    return answer or render(request, "coop/joint/back.html", context)
