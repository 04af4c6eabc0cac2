"""Pages on which an order is made by hand, its head changed, and two drafts joined."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.buying.drafting import services
from farmbuild.buying.drafting.by_site import deliver_by_site
from farmbuild.buying.drafting.forms import HeadForm, JoinForm, NewOrderForm
from farmbuild.buying.drafting.joining import join_orders
from farmbuild.buying.drafting.selectors import joinable
from farmbuild.buying.drafting.views.asking import draft_or_redirect, save_agreed
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.selectors import suppliers_of
from farmbuild.common.pages import actor_kwargs, run_action, save_form
from farmbuild.sites.selectors import sites_of


def new(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    form = NewOrderForm(request.POST or None, organisation=organisation, instance=PurchaseOrder())
    done = save_form(
        request,
        form,
        lambda data: services.create_draft(**actor_kwargs(request), **data),
        message=gettext("Order {} is made. Add what is to be ordered."),
    )
    context = {
        "form": form,
        "suppliers": suppliers_of(organisation=organisation).exists(),
        "sites": sites_of(organisation=organisation).exists(),
    }
    return done or render(request, "buying/drafting/new.html", context)


def change(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    if away := draft_or_redirect(request, order):
        return away
    form = HeadForm(request.POST or None, organisation=request.organisation, instance=order)

    def save(data: dict[str, Any]) -> PurchaseOrder:
        return services.change_draft(**actor_kwargs(request), order=order, **data)

    done, effects = save_agreed(request, form, save, message=gettext("Order {} is changed."), order=order)
    return done or render(request, "buying/drafting/change.html", {"order": order, "form": form, "effects": effects})


@require_POST
def by_site(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    return run_action(
        request,
        lambda: deliver_by_site(**actor_kwargs(request), order=order),
        message=gettext("The lines go to the sites of their houses now."),
        redirect_to=order,
    )


def join(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    if away := draft_or_redirect(request, order):
        return away
    drafts = joinable(order=order)
    form = JoinForm(request.POST or None, organisation=request.organisation, drafts=drafts)
    done = save_form(
        request,
        form,
        lambda data: join_orders(**actor_kwargs(request), order=order, **data),
        message=gettext("The lines stand on order {} now."),
    )
    return done or render(request, "buying/drafting/join.html", {"order": order, "form": form, "drafts": drafts})
