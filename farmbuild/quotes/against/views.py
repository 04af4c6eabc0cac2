"""Pages of cost against quote, and of what jobs teach."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from farmbuild.common.pages import actor_kwargs, run_action, save_form
from farmbuild.common.speaking import as_kept
from farmbuild.orgs.clock import today_of
from farmbuild.quotes.against import selectors, services
from farmbuild.quotes.against.csv_files import costs_csv
from farmbuild.quotes.against.files import costs_csv_of, costs_workbook
from farmbuild.quotes.against.forms import ToComeForm
from farmbuild.quotes.against.lessons import lessons_of
from farmbuild.quotes.against.presenters import Against, lesson_rows
from farmbuild.quotes.against.tables import CauseTable, CostHouseTable, CostLineTable
from farmbuild.quotes.bills.forms import PeriodForm
from farmbuild.quotes.models import Job
from farmbuild.workbooks.services import XLSX

CSV = "text/csv; charset=utf-8"


def _job(request: HttpRequest, number: int) -> Job:
    return get_object_or_404(selectors.jobs_of(organisation=request.organisation), number=number)


def _page(job: Job) -> str:
    return reverse("quotes:against", args=[job.number])


@require_safe
def show(request: HttpRequest, number: int) -> HttpResponse:
    job, organisation = _job(request, number), request.organisation
    costs = selectors.costs_of(job=job)
    context = {"job": job, "may_finish": job.state == Job.State.ACCEPTED}
    if costs:
        shown = Against(costs, today_of(organisation=organisation))
        context |= {
            "shown": shown,
            "costs": costs,
            "causes": CauseTable(shown.causes, organisation=organisation),
            "lines": CostLineTable(shown.lines, organisation=organisation),
            "houses": CostHouseTable(shown.places, organisation=organisation),
        }
    return render(request, "quotes/against/show.html", context)


def to_come(request: HttpRequest, number: int) -> HttpResponse:
    job = _job(request, number)
    costs = selectors.costs_of(job=job)
    if costs is None:
        return redirect(_page(job))
    begin = {"amount": costs.typed.amount, "reason": costs.typed.reason} if costs.typed else {}
    form = ToComeForm(request.POST or None, initial=begin, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.type_to_come(**actor_kwargs(request), job=job, **data),
        message=gettext("What is still to come is saved."),
        redirect_to=_page(job),
    )
    return answer or render(request, "quotes/against/to_come.html", {"job": job, "form": form, "costs": costs})


@require_POST
def finish(request: HttpRequest, number: int) -> HttpResponse:
    job = _job(request, number)
    return run_action(
        request,
        lambda: services.finish_job(**actor_kwargs(request), job=job),
        message=gettext("%(job)s is finished.") % {"job": job},
        redirect_to=_page(job),
    )


def _shown(request: HttpRequest, number: int) -> Against:
    """404 while nothing is accepted."""
    costs = selectors.costs_of(job=_job(request, number))
    if costs is None:
        raise Http404
    return Against(costs, today_of(organisation=request.organisation))


def _file(data: bytes, name: str, kind: str) -> HttpResponse:
    return HttpResponse(
        data, content_type=kind, headers={"Content-Disposition": content_disposition_header(True, name)}
    )


@require_safe
def workbook(request: HttpRequest, number: int) -> HttpResponse:
    shown = _shown(request, number)
    with as_kept():
        data = costs_workbook(shown)
    return _file(data, f"costs-{shown.costs.job.reference}.xlsx".lower(), XLSX)


@require_safe
def job_csv(request: HttpRequest, number: int) -> HttpResponse:
    shown = _shown(request, number)
    with as_kept():
        data = costs_csv_of(shown)
    return _file(data, f"costs-{shown.costs.job.reference}.csv".lower(), CSV)


@require_safe
def csv_file(request: HttpRequest) -> HttpResponse:
    asked = PeriodForm(request.GET, organisation=request.organisation).narrow()
    jobs = selectors.accepted_jobs(organisation=request.organisation, job=asked.pop("job", None))
    return _file(costs_csv(jobs, **asked), "costs.csv", CSV)


@require_safe
def lessons(request: HttpRequest) -> HttpResponse:
    rows = lesson_rows(lessons_of(organisation=request.organisation))
    return render(request, "quotes/against/lessons.html", {"rows": rows})


@require_POST
def take_lesson(request: HttpRequest) -> HttpResponse:
    return run_action(
        request,
        lambda: services.take_lesson(
            **actor_kwargs(request), key=request.POST.get("key", ""), seen=request.POST.get("seen", "")
        ),
        message=gettext("Next quotes reckon with it."),
        redirect_to=reverse("quotes:lessons"),
    )
