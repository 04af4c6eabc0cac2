"""Pages of materials, suppliers and their offers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig

from farmbuild.catalogue import services
from farmbuild.catalogue.forms import MaterialForm, OfferForm, SupplierForm, price_rows
from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.catalogue.selectors import materials_of, offers_of, suppliers_of, suppliers_with_offers
from farmbuild.catalogue.sheets import tube_figures
from farmbuild.catalogue.tables import MaterialTable, OfferTable, SupplierTable
from farmbuild.common.clash import SomebodySaved, refuse_if_changed
from farmbuild.common.form_parts import put_errors
from farmbuild.common.pages import ROWS, stored
from farmbuild.common.tables import FarmTable


def _paged(request: HttpRequest, table: FarmTable) -> FarmTable:
    return RequestConfig(request, paginate={"per_page": ROWS}).configure(table)


# Materials


def materials(request: HttpRequest) -> HttpResponse:
    rows = materials_of(organisation=request.organisation)
    table = _paged(request, MaterialTable(rows, organisation=request.organisation))
    return render(request, "catalogue/materials.html", {"table": table, "count": table.paginator.count})


@require_POST
def add_starting(request: HttpRequest) -> HttpResponse:
    added = services.add_starting_catalogue(organisation=request.organisation)
    if added:
        messages.success(request, f"{len(added)} materials added. Compare the sizes with what your suppliers sell.")
    else:
        messages.info(request, "You have all of the shipped materials already.")
    return redirect("catalogue:materials")


def material_new(request: HttpRequest) -> HttpResponse:
    form = MaterialForm(request.POST or None, organisation=request.organisation)
    answer = stored(
        request,
        form,
        lambda data: services.create_material(organisation=request.organisation, user=request.user, **data),
        says="{} is on the list.",
        to="catalogue:materials",
    )
    return answer or render(request, "catalogue/material_form.html", {"form": form})


def material_sizes(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(materials_of(organisation=request.organisation).select_related("organisation"), code=code)
    context = {"material": row, "figures": tube_figures(row), "is_tube": row.kind == Material.Kind.TUBE}
    return render(request, "catalogue/material.html", context)


def material(request: HttpRequest, code: str) -> HttpResponse:
    row = get_object_or_404(materials_of(organisation=request.organisation), code=code)
    name = row.name
    form = MaterialForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = stored(
        request,
        form,
        lambda data: services.change_material(
            organisation=request.organisation, user=request.user, material=row, data=data
        ),
        says="{} is saved.",
        to=reverse("catalogue:material-sizes", args=[code]),
    )
    return answer or render(request, "catalogue/material_form.html", {"form": form, "material": row, "name": name})


# Suppliers


def suppliers(request: HttpRequest) -> HttpResponse:
    rows = suppliers_with_offers(organisation=request.organisation)
    table = _paged(request, SupplierTable(rows, organisation=request.organisation))
    return render(request, "catalogue/suppliers.html", {"table": table, "count": table.paginator.count})


def _supplier(request: HttpRequest, code: str) -> Supplier:
    return get_object_or_404(suppliers_of(organisation=request.organisation), code=code)


def supplier_new(request: HttpRequest) -> HttpResponse:
    form = SupplierForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            made = services.create_supplier(organisation=request.organisation, user=request.user, **form.cleaned_data)
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{made.name} is on the list. Now type what it offers.")
            return redirect("catalogue:supplier", made.code)
    return render(request, "catalogue/supplier_form.html", {"form": form})


def supplier(request: HttpRequest, code: str) -> HttpResponse:
    row = _supplier(request, code)
    offers = offers_of(organisation=request.organisation).filter(supplier=row)
    table = _paged(request, OfferTable(offers, organisation=request.organisation))
    context = {"supplier": row, "table": table, "count": table.paginator.count}
    return render(request, "catalogue/supplier.html", context)


def supplier_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = _supplier(request, code)
    name = row.name
    form = SupplierForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = stored(
        request,
        form,
        lambda data: services.change_supplier(
            organisation=request.organisation, user=request.user, supplier=row, data=data
        ),
        says="{} is saved.",
        to=reverse("catalogue:supplier", args=[code]),
    )
    return answer or render(request, "catalogue/supplier_form.html", {"form": form, "supplier": row, "name": name})


# Offers


def offer_new(request: HttpRequest, code: str) -> HttpResponse:
    return _offer_page(request, _supplier(request, code), None)


def offer(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = _supplier(request, code)
    found = get_object_or_404(offers_of(organisation=request.organisation), supplier=row, pk=pk)
    return _offer_page(request, row, found)


def _offer_page(request: HttpRequest, row: Supplier, found: Offer | None) -> HttpResponse:
    organisation = request.organisation
    instance = found or Offer(organisation=organisation, supplier=row)
    form = OfferForm(request.POST or None, instance=instance, organisation=organisation)
    prices = price_rows(request.POST or None, organisation=organisation, offer=found)
    problem = ""
    # Both are checked, so that every field that is wrong says so at once.
    right = [form.is_valid(), prices.is_valid()]
    if prices.is_bound:
        problem = " ".join(prices.non_form_errors())
    if all(right):
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
            if hasattr(error, "error_dict") or isinstance(error, SomebodySaved):
                put_errors(form, error)
            else:
                problem = " ".join(error.messages)
        else:
            messages.success(request, f"The offer for {form.instance.material} is saved.")
            return redirect("catalogue:supplier", row.code)
    context: dict[str, Any] = {"form": form, "prices": prices, "supplier": row, "offer": found, "problem": problem}
    return render(request, "catalogue/offer_form.html", context)


@require_POST
def offer_remove(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    row = _supplier(request, code)
    found = get_object_or_404(offers_of(organisation=request.organisation), supplier=row, pk=pk)
    services.remove_offer(organisation=request.organisation, user=request.user, offer=found)
    messages.success(request, f"The offer for {found.material} is removed.")
    return redirect("catalogue:supplier", row.code)
