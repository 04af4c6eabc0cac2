"""More into the lot whose label was read, and what of it is on order."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext

from farmbuild.buying.selectors import incoming_like
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import actor_kwargs, first_rows
from farmbuild.common.speaking import said_count
from farmbuild.stock import services
from farmbuild.stock.ledger_forms import ReceiveMoreForm
from farmbuild.stock.selectors import lots_of
from farmbuild.stock.views.ledger import back_to_lot
from farmbuild.stock.words import noun_of

#: Order lines that are offered; the list of orders has the rest.
MAX_LINES = 4


def receive_more(request: HttpRequest, pk: int) -> HttpResponse:
    lot = get_object_or_404(lots_of(organisation=request.organisation), pk=pk)
    form = ReceiveMoreForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            services.receive_more(lot=lot, **actor_kwargs(request), **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            more = said_count(form.cleaned_data["quantity"], "piece")
            messages.success(
                request, gettext("%(more)s more in %(reference)s.") % {"more": more, "reference": lot.reference}
            )
            return back_to_lot(request, lot)
    lines, more_lines = first_rows(incoming_like(lot=lot), MAX_LINES)
    context = {
        "form": form,
        "lot": lot,
        "there": said_count(lot.on_hand, noun_of(lot.material, offcut=lot.offcut)),
        "lines": lines,
        "more_lines": more_lines,
    }
    return render(request, "buying/receive_more.html", context)
