"""Labels to print, and the page that a phone opens when it reads one."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.pages import first_rows
from farmbuild.common.qr import code_svg
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import length
from farmbuild.orgs.languages import as_shared
from farmbuild.stock.counts.selectors import open_line_of
from farmbuild.stock.labels.forms import LabelForm
from farmbuild.stock.labels.taps import taps_of
from farmbuild.stock.ledger import issue_to_put_back
from farmbuild.stock.ledger_selectors import loans_of_lot
from farmbuild.stock.models import Lot
from farmbuild.stock.reserving.consuming import holders_in_words, reservations_of_lots
from farmbuild.stock.selectors import lots_of, lots_to_label
from farmbuild.stock.words import noun_of

#: Labels on one page of the browser; a place with more is printed in parts.
MAX_LABELS = 240


@dataclass(frozen=True)
class Label:
    """``length`` and ``offcut`` are in the units and language of the organisation: everybody reads the stick."""

    lot: Lot
    code: SafeString
    address: str
    length: str
    offcut: str


def label_of(lot: Lot, request: HttpRequest) -> Label:
    address = request.build_absolute_uri(reverse("stock:lot-short", args=[lot.reference]))
    about = gettext("Code of lot %(lot)s") % {"lot": lot.reference}
    with as_shared(request.organisation):
        return Label(
            lot,
            code_svg(address, about=about),
            address,
            length="" if lot.length is None else length(lot.length, request.organisation),
            offcut=gettext("offcut") if lot.offcut else "",
        )


def labels(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    form = LabelForm(request.GET, organisation=organisation)
    chosen = form.cleaned_data if form.is_valid() else {}
    rows = lots_to_label(organisation=organisation, chosen=chosen.get("lot") or (), place=chosen.get("place"))
    lots, more = first_rows(rows, MAX_LABELS)
    size = form.chosen_size()
    context = {
        "form": form,
        "labels": [label_of(lot, request) for lot in lots],
        "size": size,
        "sheets": size.sheets_for(len(lots)),
        "too_many": MAX_LABELS if more else 0,
    }
    return render(request, "stock/labels/labels.html", context)


def short(request: HttpRequest, reference: str) -> HttpResponse:
    """What a phone opens from a label: what the lot is, and what is done with it, under the thumb."""
    lot = get_object_or_404(lots_of(organisation=request.organisation), reference=reference)
    line = open_line_of(lot=lot)
    context = {
        "lot": lot,
        # Who counts without being told how many there are sees no pile.
        "taps": None if line and line.count.blind else taps_of(lot),
        "what": said_count(lot.on_hand, noun_of(lot.material, offcut=lot.offcut)),
        "held": holders_in_words(reservations_of_lots([lot.pk])) if lot.reserved else "",
        "line": line,
        "issued": issue_to_put_back(lot=lot),
        "loans": loans_of_lot(lot=lot),
    }
    return render(request, "stock/labels/lot.html", context)
