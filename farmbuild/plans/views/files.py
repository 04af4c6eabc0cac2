"""What can be taken away from a ready plan as a file."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.http import content_disposition_header

from farmbuild.plans import bridge
from farmbuild.plans.archives import orders_archive, trial_file
from farmbuild.plans.models import Plan
from farmbuild.plans.views.parts import of_ready_plan
from farmbuild.workbooks.services import XLSX, cut_list_workbook, leftovers_workbook, takeoff_workbook

ZIP = "application/zip"


def attachment(data: bytes, name: str, media_type: str) -> HttpResponse:
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(data, content_type=media_type, headers=headers)


@of_ready_plan
def cut_list(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    return attachment(cut_list_workbook(season=season, plan=result), f"cut-list-{plan.number}.xlsx", XLSX)


@of_ready_plan
def takeoff(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    return attachment(takeoff_workbook(season=season, plan=result), f"take-off-{plan.number}.xlsx", XLSX)


@of_ready_plan
def leftovers(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    return attachment(leftovers_workbook(season=season, plan=result), f"leftovers-{plan.number}.xlsx", XLSX)


@of_ready_plan
def trial(
    request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan, order: str
) -> HttpResponse:
    try:
        file = trial_file(plan=plan, number=order)
    except KeyError as error:
        raise Http404 from error
    return attachment(file.data, file.name, XLSX)


@of_ready_plan
def orders(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    file = orders_archive(plan=plan)
    return attachment(file.data, file.name, ZIP)
