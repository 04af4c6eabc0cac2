"""Pages on which lines of a draft are added, changed, split and taken out."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext

from farmbuild.buying.drafting import services
from farmbuild.buying.drafting.forms import LineForm, NewLineForm, RemoveForm, SplitForm
from farmbuild.buying.drafting.joining import split_line
from farmbuild.buying.drafting.selectors import offers_to_order
from farmbuild.buying.drafting.store import lines_to_work_out
from farmbuild.buying.drafting.views.asking import draft_or_redirect, save_agreed
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.reserving.selectors import reservations_of_lines
from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.orgs.clock import today_of
from farmbuild.stock.reserving.consuming import holders_in_words


def add(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    if away := draft_or_redirect(request, order):
        return away
    offers = offers_to_order(
        organisation=request.organisation, supplier=order.supplier, today=today_of(organisation=request.organisation)
    )
    form = NewLineForm(request.POST or None, organisation=request.organisation, order=order, offers=offers)
    done = save_form(
        request,
        form,
        lambda data: services.add_line(**actor_kwargs(request), order=order, **data),
        message=gettext("{} is added."),
        redirect_to=order,
    )
    return done or render(request, "buying/drafting/line_new.html", {"order": order, "form": form})


def _line(order: PurchaseOrder, pk: int) -> PurchaseOrderLine | None:
    """With the offer that gives its price, as it is changed by."""
    return next((line for line in lines_to_work_out(order) if line.pk == pk), None)


def _gone(request: HttpRequest, order: PurchaseOrder) -> HttpResponse:
    messages.error(request, gettext("This line is not on the order any more."))
    return redirect(order)


def change(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    order = order_or_404(request, number)
    if away := draft_or_redirect(request, order):
        return away
    line = _line(order, pk)
    if line is None:
        return _gone(request, order)
    form = LineForm(request.POST or None, organisation=request.organisation, instance=line)

    def save(data: dict[str, Any]) -> PurchaseOrderLine:
        return services.change_line(**actor_kwargs(request), order=order, line=line, **data)

    done, effects = save_agreed(request, form, save, message=gettext("{} is changed."), order=order)
    context = {"order": order, "line": line, "form": form, "effects": effects, "holders": _holders(line)}
    return done or render(request, "buying/drafting/line.html", context)


def split(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    order = order_or_404(request, number)
    if away := draft_or_redirect(request, order):
        return away
    line = _line(order, pk)
    if line is None:
        return _gone(request, order)
    form = SplitForm(request.POST or None, organisation=request.organisation, order=order, line=line)

    def save(data: dict[str, Any]) -> PurchaseOrderLine:
        return split_line(**actor_kwargs(request), order=order, line=line, **data)

    done, effects = save_agreed(request, form, save, message=gettext("{} is split off."), order=order)
    context = {"order": order, "line": line, "form": form, "effects": effects, "holders": _holders(line)}
    return done or render(request, "buying/drafting/line_split.html", context)


def remove(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    order = order_or_404(request, number)
    if away := draft_or_redirect(request, order):
        return away
    line = _line(order, pk)
    if line is None:
        return _gone(request, order)
    form = RemoveForm(request.POST or None, organisation=request.organisation, initial={"seen": line.quantity})

    def save(data: dict[str, Any]) -> PurchaseOrder:
        return services.remove_line(**actor_kwargs(request), order=order, line=line, **data)

    done, effects = save_agreed(request, form, save, message=gettext("The line is off order {}."), order=order)
    context = {"order": order, "line": line, "form": form, "effects": effects, "holders": _holders(line)}
    return done or render(request, "buying/drafting/line_remove.html", context)


def _holders(line: PurchaseOrderLine) -> str:
    return holders_in_words(reservations_of_lines([line]))
