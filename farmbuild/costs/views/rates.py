"""Prices of an hour, of a day of equipment and of a trip, each from a day on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from farmbuild.common.pages import actor_kwargs, save_form
from farmbuild.common.paging import paged
from farmbuild.costs import rates as services
from farmbuild.costs.forms import EquipmentRateForm, PayRateForm, TripRateForm
from farmbuild.costs.presenters import rates_page
from farmbuild.costs.tables import RateTable


@require_GET
def rates(request: HttpRequest) -> HttpResponse:
    page = rates_page(organisation=request.organisation)
    tables = [
        (title, paged(request, RateTable(rows, organisation=request.organisation, prefix=f"{kind}-")))
        for kind, title, rows in page["kinds"]
    ]
    return render(request, "costs/rates.html", page | {"tables": tables})


def _set(request: HttpRequest, kind: type[BaseForm], save: Callable[..., Any], title: str, answer: str) -> HttpResponse:
    form = kind(request.POST or None, organisation=request.organisation)
    done = save_form(
        request,
        form,
        lambda data: save(**actor_kwargs(request), **data),
        message=gettext("The price is set: {}."),
        redirect_to="costs:rates",
    )
    context = {"form": form, "title": title, "answer": answer, "back": "rates"}
    return done or render(request, "costs/form.html", context)


@require_http_methods(["GET", "POST"])
def pay(request: HttpRequest) -> HttpResponse:
    words = gettext("Hours keep the rate of their day. A new one changes nothing past.")
    return _set(request, PayRateForm, services.set_pay_rate, gettext("Set a pay rate"), words)


@require_http_methods(["GET", "POST"])
def equipment(request: HttpRequest) -> HttpResponse:
    words = gettext("Days keep the price that they had. A new one changes nothing past.")
    return _set(request, EquipmentRateForm, services.set_equipment_rate, gettext("Set the price of a day"), words)


@require_http_methods(["GET", "POST"])
def trip(request: HttpRequest) -> HttpResponse:
    words = gettext("Trips keep the price that they had. A new one changes nothing past.")
    return _set(request, TripRateForm, services.set_trip_rate, gettext("Set the price of a trip"), words)
