"""What a house cost, what all of them cost, and both as files."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from farmbuild.common.paging import paged
from farmbuild.costs.statement import files
from farmbuild.costs.statement.presenters import house_page, houses_page
from farmbuild.costs.tables import CostLineTable, HouseCostTable
from farmbuild.orgs.answers.pages import kept_page
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.models import House

LINES_A_PAGE = 50


def _house(request: HttpRequest, slug: str) -> House:
    return house_or_404(organisation=request.organisation, slug=slug)


def _csv(name: str, text: bytes) -> HttpResponse:
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(text, content_type="text/csv; charset=utf-8", headers=headers)


@require_GET
def house(request: HttpRequest, slug: str) -> HttpResponse:
    found = _house(request, slug)
    page = house_page(house=found)
    tables = [
        (
            part.name,
            part.amount_text(request.organisation.currency),
            paged(
                request,
                CostLineTable(part.lines, organisation=request.organisation, prefix=f"{part.kind}-"),
                rows=LINES_A_PAGE,
            ),
        )
        for part in page["statement"].parts
    ]
    return render(request, "costs/house.html", page | {"house": found, "tables": tables})


@require_GET
def house_csv(request: HttpRequest, slug: str) -> HttpResponse:
    found = _house(request, slug)
    return _csv(f"cost-{found.slug}.csv", files.house_csv(house=found))


@require_GET
@kept_page("costs")
def houses(request: HttpRequest) -> HttpResponse:
    page = houses_page(organisation=request.organisation)
    table = paged(request, HouseCostTable(page["rows"], organisation=request.organisation))
    return render(request, "costs/houses.html", page | {"table": table})


@require_GET
def houses_csv(request: HttpRequest) -> HttpResponse:
    return _csv("costs.csv", files.houses_csv(organisation=request.organisation))
