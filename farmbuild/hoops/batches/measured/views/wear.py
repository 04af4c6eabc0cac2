"""The wear of a bender: pulls, drift, services; what is written down there and taken back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from farmbuild.common.pages import ROWS, actor_kwargs, save_form
from farmbuild.common.paging import paged
from farmbuild.hoops.batches.measured import services
from farmbuild.hoops.batches.measured.forms import HoopForm, ReasonForm, ServiceForm
from farmbuild.hoops.batches.measured.history import history_csv
from farmbuild.hoops.batches.measured.selectors import measured_hoops_of, services_of
from farmbuild.hoops.batches.measured.wear import wear_of
from farmbuild.hoops.batches.measured.wear_page import wear_page
from farmbuild.hoops.batches.measured.wear_tables import HoopTable, ServiceTable
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.views.benders import bender_or_404
from farmbuild.orgs.acts import Act


def show(request: HttpRequest, slug: str) -> HttpResponse:
    bender, organisation = bender_or_404(request, slug), request.organisation
    tables = {
        "services": ServiceTable(services_of(bender=bender), organisation=organisation, prefix="services-"),
        "hoops": HoopTable(measured_hoops_of(bender=bender), organisation=organisation, prefix="hoops-"),
    }
    for table in tables.values():
        paged(request, table, rows=ROWS)
    return render(
        request, "hoops/wear/wear.html", tables | {"bender": bender, "page": wear_page(wear_of(bender=bender))}
    )


def service(request: HttpRequest, slug: str) -> HttpResponse:
    bender = bender_or_404(request, slug)
    form = ServiceForm(request.POST or None, organisation=request.organisation, costs=Act.COSTS in request.acts)
    return _form(request, bender, form, "service", services.record_service, gettext("Written down."))


def hoop(request: HttpRequest, slug: str) -> HttpResponse:
    bender = bender_or_404(request, slug)
    form = HoopForm(request.POST or None, organisation=request.organisation, bender=bender)
    return _form(request, bender, form, "hoop", services.record_hoop, gettext("Written down."))


def _form(
    request: HttpRequest, bender: Bender, form: Any, name: str, act: Callable[..., Any], message: str
) -> HttpResponse:
    answer = save_form(
        request,
        form,
        lambda data: act(**actor_kwargs(request), bender=bender, data=data),
        message=message,
        redirect_to=reverse("hoops:bender-wear", args=[bender.slug]),
    )
    return answer or render(request, f"hoops/wear/{name}.html", {"form": form, "bender": bender})


def service_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    bender = bender_or_404(request, slug)
    row = get_object_or_404(services_of(bender=bender), pk=pk)
    return _back(request, bender, row, "service_back", services.take_back_service)


def hoop_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    bender = bender_or_404(request, slug)
    row = get_object_or_404(measured_hoops_of(bender=bender), pk=pk)
    return _back(request, bender, row, "hoop_back", services.take_back_hoop)


def _back(request: HttpRequest, bender: Bender, row: Any, name: str, act: Callable[..., Any]) -> HttpResponse:
    form = ReasonForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: act(**actor_kwargs(request), row=row, **data),
        message=gettext("Taken back. It stays in the record."),
        redirect_to=reverse("hoops:bender-wear", args=[bender.slug]),
    )
    return answer or render(request, f"hoops/wear/{name}.html", {"form": form, "bender": bender, "row": row})


@require_safe
def history(request: HttpRequest, slug: str) -> HttpResponse:
    bender = bender_or_404(request, slug)
    data = history_csv(wear_of(bender=bender), costs=Act.COSTS in request.acts)
    headers = {"Content-Disposition": content_disposition_header(True, f"{bender.slug}.csv")}
    return HttpResponse(data, content_type="text/csv; charset=utf-8", headers=headers)
