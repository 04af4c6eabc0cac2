"""Pages of suppliers."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.catalogue import services
from farmbuild.catalogue.forms import LeadDaysForm, SupplierForm
from farmbuild.catalogue.models import Supplier
from farmbuild.catalogue.selectors import (
    offers_of,
    silent_offers,
    suppliers_of,
    suppliers_with_offers,
)
from farmbuild.catalogue.tables import OfferTable, SupplierTable, offer_address
from farmbuild.catalogue.views.wanted import wanted_material
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import save_form
from farmbuild.common.paging import paged
from farmbuild.measure import count_noun


def suppliers(request: HttpRequest) -> HttpResponse:
    """With ?material= a row opens a new offer of it."""
    wanted = wanted_material(request)
    rows = suppliers_with_offers(organisation=request.organisation)
    asked = request.GET.urlencode() if wanted else ""
    table = paged(request, SupplierTable(rows, organisation=request.organisation, asked=asked))
    context = {"table": table, "count": table.paginator.count, "wanted": wanted, "asked": asked}
    return render(request, "catalogue/suppliers.html", context)


def supplier_or_404(request: HttpRequest, code: str) -> Supplier:
    return get_object_or_404(suppliers_of(organisation=request.organisation), code=code)


def supplier_new(request: HttpRequest) -> HttpResponse:
    form = SupplierForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            made = services.create_supplier(organisation=request.organisation, user=request.user, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request, gettext("%(made_name)s is on the list. Now type what it offers.") % {"made_name": made.name}
            )
            if wanted_material(request):
                return redirect(offer_address(made.code, request.GET.urlencode()))
            return redirect("catalogue:supplier", made.code)
    return render(request, "catalogue/supplier_form.html", {"form": form})


def supplier(request: HttpRequest, code: str) -> HttpResponse:
    row = supplier_or_404(request, code)
    offers = offers_of(organisation=request.organisation, supplier=row)
    table = paged(request, OfferTable(offers, organisation=request.organisation))
    silent = silent_offers(supplier=row)
    context = {
        "supplier": row,
        "table": table,
        "count": table.paginator.count,
        "silent": silent,
        "lead": LeadDaysForm(organisation=request.organisation) if silent else None,
    }
    return render(request, "catalogue/supplier.html", context)


def lead_time(request: HttpRequest, code: str) -> HttpResponse:
    """One lead time for all offers that have none; the form stands on the supplier's page too."""
    row = supplier_or_404(request, code)
    form = LeadDaysForm(request.POST or None, organisation=request.organisation)
    silent = silent_offers(supplier=row)
    if form.is_valid():
        days = form.cleaned_data["days"]
        try:
            done = services.set_lead_days(organisation=request.organisation, user=request.user, supplier=row, days=days)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request,
                gettext("%(done)s now with a lead time of %(days)s.")
                % {"done": count_noun(done, "offer"), "days": count_noun(days, "day")},
            )
            return redirect("catalogue:supplier", row.code)
    return render(request, "catalogue/lead_time.html", {"form": form, "supplier": row, "silent": silent})


def supplier_edit(request: HttpRequest, code: str) -> HttpResponse:
    row = supplier_or_404(request, code)
    name = row.name
    form = SupplierForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.change_supplier(
            organisation=request.organisation, user=request.user, supplier=row, data=data
        ),
        message=gettext("{} is saved."),
        redirect_to=reverse("catalogue:supplier", args=[code]),
    )
    return answer or render(request, "catalogue/supplier_form.html", {"form": form, "supplier": row, "name": name})
