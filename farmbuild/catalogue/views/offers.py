"""Pages of what a supplier offers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.catalogue import services
from farmbuild.catalogue.forms import OfferForm, price_rows
from farmbuild.catalogue.models import Offer, Supplier
from farmbuild.catalogue.selectors import offers_of
from farmbuild.catalogue.views.suppliers import supplier_or_404
from farmbuild.catalogue.views.wanted import wanted_length, wanted_material, way_back
from farmbuild.common.edit_conflicts import EditConflict, refuse_if_changed
from farmbuild.common.form_parts import add_service_errors


def offer_new(request: HttpRequest, code: str) -> HttpResponse:
    return _offer_page(request, supplier_or_404(request, code), None)


def offer(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = supplier_or_404(request, code)
    found = get_object_or_404(offers_of(organisation=request.organisation), supplier=row, pk=pk)
    return _offer_page(request, row, found)


def _offer_page(request: HttpRequest, row: Supplier, found: Offer | None) -> HttpResponse:
    organisation = request.organisation
    instance = found or _new_offer(request, row)
    form = OfferForm(request.POST or None, instance=instance, organisation=organisation)
    prices = price_rows(request.POST or None, organisation=organisation, offer=found)
    problem = ""
    # Both are checked, so that every field that is wrong says so at once.
    right = [form.is_valid(), prices.is_valid()]
    if prices.is_bound:
        problem = " ".join(prices.non_form_errors())
    if all(right) and not form.ask_if_usual(prices):
        try:
            with transaction.atomic():
                refuse_if_changed(form)
                services.save_offer(
                    organisation=organisation,
                    user=request.user,
                    supplier=row,
                    data=form.cleaned_data,
                    breaks=prices.breaks(),
                    offer=found,
                )
        except ValidationError as error:
            if hasattr(error, "error_dict") or isinstance(error, EditConflict):
                add_service_errors(form, error)
            else:
                problem = " ".join(error.messages)
        else:
            messages.success(
                request, gettext("The offer for %(material)s is saved.") % {"material": form.instance.material}
            )
            return redirect(way_back(request) or reverse("catalogue:supplier", args=[row.code]))
    context: dict[str, Any] = {"form": form, "prices": prices, "supplier": row, "offer": found, "problem": problem}
    return render(request, "catalogue/offer_form.html", context)


def _new_offer(request: HttpRequest, supplier: Supplier) -> Offer:
    """Filled in with what the address says is wanted."""
    material = wanted_material(request)
    length = wanted_length(request, material)
    return Offer(organisation=request.organisation, supplier=supplier, material=material, length=length)


@require_POST
def offer_remove(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = supplier_or_404(request, code)
    found = get_object_or_404(offers_of(organisation=request.organisation), supplier=row, pk=pk)
    services.remove_offer(organisation=request.organisation, user=request.user, offer=found)
    messages.success(request, gettext("The offer for %(material)s is removed.") % {"material": found.material})
    return redirect("catalogue:supplier", row.code)
