"""The take-off of a house, on the page and as a spreadsheet."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext

from farmbuild.orgs.answers.pages import kept_page
from farmbuild.sites.bridge import spec_problems, takeoff_season
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.presenters import takeoff_page
from farmbuild.sites.tables import TakeoffTable, TotalsTable
from farmbuild.workbooks.services import XLSX, takeoff_workbook


@kept_page("take-off")
def show(request: HttpRequest, slug: str) -> HttpResponse:
    house = house_or_404(organisation=request.organisation, slug=slug)
    page = takeoff_page(house, organisation=request.organisation)
    context = {
        "house": house,
        "page": page.house,
        "groups": [(group, TakeoffTable(group.rows, organisation=request.organisation)) for group in page.groups],
        "totals": TotalsTable(page.totals, organisation=request.organisation),
        "takeoff": page,
    }
    return render(request, "sites/takeoff.html", context)


def spreadsheet(request: HttpRequest, slug: str) -> HttpResponse:
    house = house_or_404(organisation=request.organisation, slug=slug)
    if spec_problems(house, request.organisation.unit_system):
        messages.error(
            request,
            gettext("%(house_name)s cannot be built as it is specified, so it has no take-off yet.")
            % {"house_name": house.name},
        )
        return redirect(house)
    season, plan = takeoff_season(house)
    response = HttpResponse(takeoff_workbook(season=season, plan=plan), content_type=XLSX)
    response["Content-Disposition"] = f'attachment; filename="takeoff-{house.slug}.xlsx"'
    return response
