"""The guide: open to everybody, with nothing of any organisation in it but its units."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from farmbuild.guide.drawings import Drawings
from farmbuild.guide.jobs import BY_SLUG, JOBS
from farmbuild.guide.presenters import around, by_letter, units_of


def _shown(request: HttpRequest, template: str, **more: object) -> HttpResponse:
    units = units_of(request)
    return render(request, template, {"jobs": JOBS, "units": units, "drawn": Drawings(units)} | more)


@login_not_required
@require_safe
def guide(request: HttpRequest) -> HttpResponse:
    return _shown(request, "guide/guide.html")


@login_not_required
@require_safe
def job(request: HttpRequest, job: str) -> HttpResponse:
    if job not in BY_SLUG:
        raise Http404("No such page of the guide.")
    return _shown(request, "guide/job.html", job=BY_SLUG[job], **around(BY_SLUG[job]))


@login_not_required
@require_safe
def words(request: HttpRequest) -> HttpResponse:
    return _shown(request, "guide/words.html", letters=by_letter())


@login_not_required
@require_safe
def on_paper(request: HttpRequest) -> HttpResponse:
    return _shown(request, "guide/on_paper.html")
