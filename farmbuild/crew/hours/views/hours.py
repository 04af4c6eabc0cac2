"""The week's hours, one run, and the button that approves a day."""

from __future__ import annotations

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, actor_kwargs, parse_day, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.crew.actuals.selectors import presses_of
from farmbuild.crew.actuals.taking_back import may_take_back
from farmbuild.crew.hours import exports, services
from farmbuild.crew.hours.forms import CorrectionForm, minutes_of
from farmbuild.crew.hours.presenters import hours_page, monday_of, read_seen, run_page
from farmbuild.crew.hours.tables import RunTable, ToCorrectTable
from farmbuild.orgs.acts import Act, may
from farmbuild.orgs.clock import today_of
from farmbuild.workbooks.services import XLSX


def _week(request: HttpRequest) -> date:
    """Monday of the week that the address names, else of this one."""
    return monday_of(parse_day(request.GET.get("week", "")) or today_of(organisation=request.organisation))


@require_GET
def week(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    page = hours_page(organisation=organisation, first=_week(request))
    wrong = ToCorrectTable(page["wrong"], organisation=organisation)
    paged(request, wrong, rows=ROWS)
    tables = [(group, RunTable(group.rows, organisation=organisation)) for group in page["groups"]]
    context = page | {
        "wrong_table": wrong,
        "tables": tables,
        "plans": may(organisation=organisation, user=request.user, act=Act.PLAN),
    }
    return render(request, "crew/hours/week.html", context)


@require_POST
def approve(request: HttpRequest) -> HttpResponse:
    """All hours of a day of a crew that wait, as the page showed them."""
    return run_action(
        request,
        lambda: services.approve(**actor_kwargs(request), **read_seen(request.POST.get("seen", ""))),
        message=gettext("The hours are approved. Those of a step teach its rate."),
        redirect_to=f"{reverse('crew:hours')}?week={_day(request)}",
    )


def _day(request: HttpRequest) -> str:
    return (parse_day(request.POST.get("day", "")) or today_of(organisation=request.organisation)).isoformat()


@require_http_methods(["GET", "POST"])
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """One run with what became of it; posting corrects it."""
    organisation = request.organisation
    found = get_object_or_404(presses_of(organisation=organisation), pk=pk)
    page = run_page(organisation=organisation, actual=found)
    plans = may(organisation=organisation, user=request.user, act=Act.PLAN)
    may_undo = page["counts"] and may_take_back(user=request.user, actual=found, plans=plans)
    form = CorrectionForm(request.POST or None, organisation=organisation, initial=page["initial"])
    answer = save_form(
        request,
        form,
        lambda data: services.correct(
            **actor_kwargs(request),
            actual=found,
            minutes=minutes_of(data["hours"]),
            people=data["people"],
            reason=data["reason"],
            seen=data["seen"],
        ),
        message=gettext("The hours are corrected, and wait for approval."),
        redirect_to=f"{reverse('crew:hours')}?week={found.day or ''}",
    )
    return answer or render(request, "crew/hours/run.html", page | {"form": form if may_undo else None})


@require_GET
def workbook(request: HttpRequest) -> HttpResponse:
    """All hours as a spreadsheet."""
    name, data = exports.hours_file(organisation=request.organisation)
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(data, content_type=XLSX, headers=headers)
