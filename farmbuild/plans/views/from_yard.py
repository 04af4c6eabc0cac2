"""The page of what the yard gives without buying."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.once import own_transactions
from farmbuild.common.pages import actor_kwargs
from farmbuild.orgs.answers.kept import Answers
from farmbuild.plans import bridge
from farmbuild.plans.from_yard import services
from farmbuild.plans.from_yard.presenters import from_yard_shown
from farmbuild.plans.from_yard.selectors import has_changed, search_of, searches_of
from farmbuild.plans.models import Plan, PlanFromYard
from farmbuild.plans.tasks import start_in_yard, start_in_yard_once_stored, start_once_stored
from farmbuild.plans.views.plans import plan_changes, plan_or_404

#: In the address of the page, which houses are better.
BY = "by"


def _known(by: str) -> str:
    if by not in PlanFromYard.By.values:
        raise Http404
    return by


def _page(number: int, by: str) -> str:
    address = reverse("plans:from-yard", args=[number])
    return address if by == PlanFromYard.By.DAY else f"{address}?{urlencode({BY: by})}"


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest, number: int) -> HttpResponse:
    by = _known(request.GET.get(BY, PlanFromYard.By.DAY))
    plan = plan_or_404(request, number)
    if plan.state != Plan.State.READY:
        return redirect("plans:plan", number=number)
    if request.method == "POST":
        search = services.ask_what_the_yard_gives(**actor_kwargs(request), plan=plan, by=by)
        start_in_yard_once_stored(search=search)
        return redirect(_page(number, by))
    search = search_of(plan=plan, by=by)
    context = {"plan": plan, "search": search, "by": by}
    if search and search.state == PlanFromYard.State.READY:
        with Answers(request, dear=True) as answers:
            plan.changed = bool(plan_changes(answers, plan))
        context["crews_changed"] = not plan.changed and has_changed(search=search)
        context["shown"] = from_yard_shown(
            search=search, season=bridge.season_of(plan), organisation=request.organisation
        )
    return render(request, "plans/from_yard/page.html", context)


def _search_or_404(request: HttpRequest, number: int, by: str) -> PlanFromYard:
    return get_object_or_404(searches_of(organisation=request.organisation), plan__number=number, by=by)


@require_GET
def progress(request: HttpRequest, number: int, by: str) -> JsonResponse:
    return JsonResponse(_search_or_404(request, number, by).progress)


@require_POST
@own_transactions
def run(request: HttpRequest, number: int, by: str) -> HttpResponse:
    """Start the work; the page asks how far it is."""
    start_in_yard(search=_search_or_404(request, number, by))
    if not request.accepts("text/html"):
        return JsonResponse(_search_or_404(request, number, by).progress)
    return redirect(_page(number, by))


@require_POST
def end(request: HttpRequest, number: int, by: str) -> HttpResponse:
    services.end_yard_early(**actor_kwargs(request), search=_search_or_404(request, number, by))
    return redirect(_page(number, by))


@require_POST
def try_them(request: HttpRequest, number: int, by: str) -> HttpResponse:
    _known(by)
    try:
        asked = services.try_houses(**actor_kwargs(request), plan=plan_or_404(request, number), by=by)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(_page(number, by))
    if asked.same:
        messages.info(request, gettext("This was tried already: plan %(number)d.") % {"number": asked.plan.number})
    start_once_stored(plan=asked.plan)
    return redirect("plans:plan", number=asked.plan.number)
