"""Pages on which an order goes out, is cancelled, or the rest of it is closed."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext

from farmbuild.buying import sending
from farmbuild.buying.drafting.selectors import below_minimum
from farmbuild.buying.forms import ReasonForm, SendForm
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.outdated import changed_houses
from farmbuild.buying.phases import phase_of_plan
from farmbuild.buying.reserving.selectors import reservations_of_lines
from farmbuild.buying.second_person import asks_only, waits_words
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.speaking import said_count
from farmbuild.stock.reserving.consuming import holders_in_words


def send(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    changed = changed_houses(order=order) if order.state == PurchaseOrder.State.DRAFT else []
    form = SendForm(request.POST or None, organisation=request.organisation, changed=changed)
    if form.is_valid():
        try:
            sent = sending.send_order(
                organisation=request.organisation, user=request.user, order=order, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
            order.refresh_from_db(fields=["state", "sent_on"])
        else:
            messages.success(request, _sent_words(sent))
            return redirect(order)
    context = {
        "order": order,
        "form": form,
        "changed": changed,
        "plan_phase": phase_of_plan(order=order),
        "minimum": below_minimum(order=order),
        "asks": asks_only(order=order, user=request.user),
        "waits": waits_words(order=order),
    }
    return render(request, "buying/send.html", context)


def _sent_words(order: PurchaseOrder) -> str:
    if order.waits_for_second:
        return gettext("Order %(number)s is not sent yet: it waits for a second person. %(waits_words)s") % {
            "number": order.number,
            "waits_words": waits_words(order=order),
        }
    return gettext("Order %(number)s is written down as sent. Its spreadsheet is kept as it is now.") % {
        "number": order.number
    }


def cancel(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    form = ReasonForm(
        request.POST or None, organisation=request.organisation, example=gettext("bought from another supplier")
    )
    if form.is_valid():
        try:
            sending.cancel_order(organisation=request.organisation, user=request.user, order=order, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(request, gettext("Order %(order_number)s is cancelled.") % {"order_number": order.number})
            return redirect(order)
    return render(request, "buying/cancel.html", {"order": order, "form": form, "holders": _holders(order)})


def close(request: HttpRequest, number: str, position: int | None = None) -> HttpResponse:
    """The rest of one line, or of all of them."""
    order = order_or_404(request, number)
    line = None if position is None else get_object_or_404(order.lines, position=position)
    form = ReasonForm(request.POST or None, organisation=request.organisation, example=gettext("no longer made"))
    if form.is_valid():
        try:
            closed = sending.close_short(
                organisation=request.organisation, user=request.user, order=order, line=line, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request,
                gettext("%(closed)s of order %(order_number)s closed short.")
                % {"closed": said_count(closed, "line"), "order_number": order.number},
            )
            return redirect(order)
    lines = [line] if line else [row for row in order.lines.all() if row.to_come]
    context = {"order": order, "line": line, "lines": lines, "form": form, "holders": _holders(order, line)}
    return render(request, "buying/close.html", context)


def _holders(order: PurchaseOrder, line: PurchaseOrderLine | None = None) -> str:
    """Who is short of what does not come."""
    return holders_in_words(reservations_of_lines(order.lines.all() if line is None else [line]))
