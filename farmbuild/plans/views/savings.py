"""The page of savings of a plan, and giving houses what a plan tried."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.once import own_transactions
from farmbuild.common.pages import actor_kwargs
from farmbuild.measure import count_noun
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanSavings
from farmbuild.plans.savings import services
from farmbuild.plans.savings.presenters import savings_shown, tried_shown
from farmbuild.plans.savings.selectors import search_of, searches_of
from farmbuild.plans.tasks import start_looking, start_looking_once_stored, start_once_stored
from farmbuild.plans.views.plans import plan_or_404


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    if plan.state != Plan.State.READY:
        return redirect("plans:plan", number=number)
    if request.method == "POST":
        search = services.ask_for_savings(**actor_kwargs(request), plan=plan)
        start_looking_once_stored(search=search)
        return redirect("plans:savings", number=number)
    search = search_of(plan=plan)
    context = {"plan": plan, "search": search}
    if search and search.state == PlanSavings.State.READY:
        season = bridge.season_of(plan)
        context["shown"] = savings_shown(search=search, season=season, organisation=request.organisation)
    return render(request, "plans/savings/page.html", context)


def _search_or_404(request: HttpRequest, number: int) -> PlanSavings:
    return get_object_or_404(searches_of(organisation=request.organisation), plan__number=number)


@require_GET
def progress(request: HttpRequest, number: int) -> JsonResponse:
    return JsonResponse(_search_or_404(request, number).progress)


@require_POST
@own_transactions
def run(request: HttpRequest, number: int) -> HttpResponse:
    """Start the work; the page asks how far it is."""
    start_looking(search=_search_or_404(request, number))
    if not request.accepts("text/html"):
        return JsonResponse(_search_or_404(request, number).progress)
    return redirect("plans:savings", number=number)


@require_POST
def end(request: HttpRequest, number: int) -> HttpResponse:
    services.end_savings_early(**actor_kwargs(request), search=_search_or_404(request, number))
    return redirect("plans:savings", number=number)


@require_POST
def try_one(request: HttpRequest, number: int, row: int) -> HttpResponse:
    try:
        asked = services.try_saving(**actor_kwargs(request), plan=plan_or_404(request, number), row=row)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("plans:savings", number=number)
    if asked.same:
        messages.info(
            request, gettext("This was tried already: plan %(plan_number)s.") % {"plan_number": asked.plan.number}
        )
    start_once_stored(plan=asked.plan)
    return redirect("plans:plan", number=asked.plan.number)


@require_http_methods(["GET", "HEAD", "POST"])
def houses_as_tried(request: HttpRequest, number: int) -> HttpResponse:
    """Asks before houses are changed."""
    plan = plan_or_404(request, number)
    if not plan.tried or not plan.tried.get("houses"):
        raise Http404
    problems: list[str] = []
    if request.method == "POST":
        try:
            done = services.change_houses_as_tried(**actor_kwargs(request), plan=plan)
        except ValidationError as error:
            problems = error.messages
        else:
            messages.success(
                request,
                gettext("%(done)s changed.") % {"done": count_noun(len(done), "house")}
                if done
                else gettext("The houses have it already."),
            )
            return redirect("plans:plan", number=number)
    context = {"plan": plan, "tried": tried_shown(plan, bridge.season_of(plan)), "problems": problems}
    return render(request, "plans/savings/houses.html", context)
