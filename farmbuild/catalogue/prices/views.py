"""The page of a material's prices over time."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.prices.presenters import prices_of
from farmbuild.catalogue.selectors import materials_of
from farmbuild.common.paging import paged
from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.orgs.clock import today_of


class StepTable(FarmTable):
    phone = (("supplier", "prices"), ("letter", "since", "percent", "who"))
    phone_words = {"letter": gettext_lazy("Line"), "prices": ""}

    letter = tables.Column(gettext_lazy("Line"), orderable=False)
    supplier = tables.Column(gettext_lazy("Supplier"), orderable=False)
    since = DayColumn(gettext_lazy("From"), orderable=False)
    prices = MoneyColumn(verbose_name=gettext_lazy("Price of one"), orderable=False)
    percent = tables.Column(gettext_lazy("Change"), default="", orderable=False, attrs={"td": {"class": "figure"}})
    pack = QuantityColumn(verbose_name=gettext_lazy("Pack"), unit=gettext_lazy("pieces"), orderable=False)
    lead_days = QuantityColumn(
        verbose_name=gettext_lazy("Comes after"),
        unit=gettext_lazy("days"),
        default=gettext_lazy("not known"),
        orderable=False,
    )
    who = tables.Column(gettext_lazy("Who and how"), orderable=False)

    class Meta:
        empty_text = gettext_lazy("No prices are kept.")

    def row_link(self, record: Any) -> str:
        return reverse("catalogue:supplier", args=[record["code"]])

    def render_prices(self, record: Any) -> str:
        return record["prices"]


def prices(request: HttpRequest, code: str) -> HttpResponse:
    organisation = request.organisation
    material = get_object_or_404(materials_of(organisation=organisation), code=code)
    shown = prices_of(
        organisation=organisation,
        material=material,
        length=request.GET.get("length", ""),
        today=today_of(organisation=organisation),
    )
    table = paged(request, StepTable(shown.rows, organisation=organisation))
    return render(request, "catalogue/prices.html", {"material": material, "shown": shown, "table": table})
