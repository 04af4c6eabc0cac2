"""What a phone keeps, as a page and for its script, and the script that answers where there is no reception."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from farmbuild.crew.offline.selectors import kept_pages
from farmbuild.orgs.clock import today_of
from farmbuild.stock.counts.views.places import BOXES

WORKER = Path(__file__).with_name("worker.js")


@require_GET
def kept(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    today = today_of(organisation=organisation)
    pages = kept_pages(organisation=organisation, user=request.user, acts=request.acts, today=today, boxes=BOXES)
    if request.accepts("text/html"):
        return render(request, "crew/offline/kept.html", {"pages": pages})
    person = f"{organisation.slug} {request.user.pk}"
    return JsonResponse({"pages": [asdict(page) for page in pages], "person": person})


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Its reach is the organisation's pages, of which it answers for those alone that the phone keeps."""
    answer = HttpResponse(WORKER.read_text(encoding="utf-8"), content_type="text/javascript; charset=utf-8")
    answer.headers["Cache-Control"] = "no-cache"
    answer.headers["Service-Worker-Allowed"] = request.path.removesuffix("crew/day-worker.js")
    return answer
