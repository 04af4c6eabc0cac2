"""Pages of prices and savings, and on which a joint order is closed and opened again."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.coop.joint import services
from farmbuild.coop.joint.forms import BackForm, SeenForm
from farmbuild.coop.joint.presenters.prices import Prices, prices_of
from farmbuild.coop.joint.tables import OfferTable, SavingTable
from farmbuild.coop.joint.views.joints import joint_or_404, open_or_redirect
from farmbuild.orgs.clock import today_of


def _tables(request: HttpRequest, shown: Prices) -> dict[str, object]:
    organisation = request.organisation
    return {
        "shown": shown,
        "members": SavingTable(shown.members, organisation=organisation) if shown.members else None,
        "lines": OfferTable(shown.lines, organisation=organisation, exclude=shown.hidden) if shown.lines else None,
    }


@require_safe
def prices(request: HttpRequest, number: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    return render(request, "coop/joint/prices.html", {"joint": joint} | _tables(request, prices_of(joint=joint)))


def close(request: HttpRequest, number: int) -> HttpResponse:
    """Shows what will be ordered; only that is ordered."""
    joint = joint_or_404(request, number)
    if away := open_or_redirect(request, joint):
        return away
    form = SeenForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.close_joint(**actor_kwargs(request), joint=joint, **data),
        message=gettext("It is closed, and its orders are made."),
        redirect_to=joint,
    )
    if answer:
        return answer
    shown = prices_of(joint=joint)
    context = {
        "joint": joint,
        "form": form.shown(shown.seen),
        "before_day": today_of(organisation=request.organisation) <= joint.closes_on,
    }
    return render(request, "coop/joint/close.html", context | _tables(request, shown))


def reopen(request: HttpRequest, number: int) -> HttpResponse:
    joint = joint_or_404(request, number)
    form = BackForm(
        request.POST or None, organisation=request.organisation, example=gettext("a member had the wrong length")
    )
    answer = save_form(
        request,
        form,
        lambda data: services.reopen_joint(**actor_kwargs(request), joint=joint, **data),
        message=gettext("It is open again."),
        redirect_to=joint,
    )
    context = {
        "form": form,
        "joint": joint,
        "title": gettext("Open %(joint)s again") % {"joint": joint.title},
        "answer": gettext("Its orders that have not gone out are cancelled, and members change what they need."),
        "button": gettext("Open it again"),
    }
    return answer or render(request, "coop/joint/back.html", context)
