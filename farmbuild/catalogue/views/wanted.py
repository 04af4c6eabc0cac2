"""An offer that is missing: from the page that says so, over the form filled in, and back."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.common.pages import first_rows
from farmbuild.measure.usual import LONGEST_STICK


def offer_wanted(request: HttpRequest, code: str) -> HttpResponse:
    """The form of the only supplier; else suppliers to choose from, or the first one to add."""
    material = get_object_or_404(materials_of(organisation=request.organisation), code=code)
    asked = request.GET.copy()
    asked["material"] = material.code
    suppliers, _ = first_rows(suppliers_of(organisation=request.organisation), 2)
    if len(suppliers) == 1:
        page = reverse("catalogue:offer-new", args=[suppliers[0].code])
    else:
        page = reverse("catalogue:suppliers" if suppliers else "catalogue:supplier-new")
    return redirect(f"{page}?{asked.urlencode()}")


def wanted_material(request: HttpRequest) -> Material | None:
    """The material that an offer is wanted for, by its code in the address."""
    if not (code := request.GET.get("material", "")):
        return None
    return get_object_or_404(materials_of(organisation=request.organisation), code=code)


def wanted_length(request: HttpRequest, material: Material | None) -> Decimal | None:
    """Millimetres; None where the address names none that could be."""
    if material is None or not material.by_length:
        return None
    try:
        length = Decimal(request.GET.get("length", ""))
    except InvalidOperation:
        return None
    return length if length.is_finite() and 0 < length <= LONGEST_STICK else None


def way_back(request: HttpRequest) -> str:
    """The page of this site that the address says to go back to, or ""."""
    back = request.GET.get("back", "")
    safe = back.startswith("/") and url_has_allowed_host_and_scheme(back, allowed_hosts=None)
    return back if safe else ""
