"""The list of plans, asking for one, and the first page of one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from farmbuild.buying.selectors import orders_of_plan
from farmbuild.buying.tables import OrderTable
from farmbuild.common.once import own_transactions
from farmbuild.common.pages import actor_kwargs
from farmbuild.common.paging import paged
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.clock import today_of
from farmbuild.plans import bridge, coverage, cut_bundles, selectors, services, summary
from farmbuild.plans.forms import NewPlanForm
from farmbuild.plans.models import Plan
from farmbuild.plans.outdated import changed_houses
from farmbuild.plans.phases.selectors import Phase, standing_of
from farmbuild.plans.phases.words import next_step, sentence_of
from farmbuild.plans.reserving.selectors import reservations_of_plan
from farmbuild.plans.savings.presenters import tried_shown
from farmbuild.plans.season.presenters import plan_line
from farmbuild.plans.tables import PlanTable, TriedOrderTable
from farmbuild.plans.tasks import start_once_stored, start_plan
from farmbuild.sites.selectors import houses_asked, houses_of, sites_with_houses
from farmbuild.stock.reserving.selectors import reserved_sums


def plan_or_404(request: HttpRequest, number: int) -> Plan:
    return get_object_or_404(selectors.plans_of(organisation=request.organisation), number=number)


@require_GET
def plan_list(request: HttpRequest) -> HttpResponse:
    with Answers(request) as answers:
        found = answers.get("plans", lambda: _list_shown(request), request.GET.urlencode())
    return render(request, "plans/list.html", found)


def _list_shown(request: HttpRequest) -> dict[str, Any]:
    organisation = request.organisation
    rows = selectors.plans_with_totals(organisation=organisation)
    table = paged(request, PlanTable(rows, organisation=organisation))
    keys = [row.record.pk for row in table.paginated_rows if not row.record.overtaken]
    table.outdated = changed_houses(organisation=organisation, plans=keys)
    return {"latest": rows.first(), "table": table.as_html(request)}


def create(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    houses = houses_of(organisation=organisation)
    form = NewPlanForm(request.POST or None, organisation=organisation, initial=_suggested(request, houses))
    if request.method == "POST" and form.is_valid():
        try:
            asked = services.create_plan(organisation=organisation, user=request.user, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return _follow(request, asked)
    sites = sites_with_houses(organisation=organisation)
    return render(request, "plans/new.html", {"form": form, "house_count": houses.count(), "sites": sites})


def _suggested(request: HttpRequest, houses: QuerySet) -> dict[str, Any]:
    """All houses are ticked, unless the address says none, one site or one house."""
    tick = request.GET.get("tick", "all")
    if tick == "none":
        houses = houses.none()
    else:
        houses = houses_asked(houses, site=request.GET.get("site"), house=request.GET.get("house"))
    first = houses.first()
    today = today_of(organisation=request.organisation)
    return {
        "name": f"Season {(first.need_date if first else today).year}",
        "as_of": today,
        "houses": houses,
        "delivery_site": first and first.site,
        "from_common": selectors.took_from_common(organisation=request.organisation),
    }


def _follow(request: HttpRequest, asked: services.PlanRequest) -> HttpResponse:
    plan = asked.plan
    if asked.same:
        messages.info(
            request,
            gettext("Nothing has changed since plan %(plan_number)s, “%(plan_name)s”, so this is the answer.")
            % {"plan_number": plan.number, "plan_name": plan.name},
        )
    start_once_stored(plan=plan)
    return redirect("plans:plan", number=plan.number)


@require_GET
def show(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    if plan.state == Plan.State.FAILED:
        return render(request, "plans/stopped.html", {"plan": plan})
    if plan.state != Plan.State.READY:
        # The page starts what nobody works on; a second start finds the work taken and does nothing.
        return render(request, "plans/working.html", {"plan": plan, "open": plan.is_open_to_work})
    season, result = plan.snapshot()
    with Answers(request, dear=True) as answers:
        found = answers.watched("plan", lambda: _plan_shown(answers, plan, season, result), plan)
        changes = plan_changes(answers, plan)
    context = {"plan": plan, "season": season, "result": result, "changes": changes}
    return render(request, "plans/plan.html", context | found)


def plan_changes(answers: Answers, plan: Plan) -> list[str]:
    """What has changed since, for its first page and its parts alike."""
    return answers.watched("plan changes", lambda: selectors.changes_since(plan=plan), plan)


def _plan_shown(answers: Answers, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> dict[str, Any]:
    organisation, request = answers.organisation, answers.request
    changed = changed_houses(organisation=organisation, plans=[plan.pk])
    totals = selectors.plans_with_totals(organisation=organisation).get(pk=plan.pk)
    phase, standing = Phase(totals.phase), standing_of(plan=plan)
    line = plan_line(plan=plan, season=season, result=result)
    return {
        "phase": phase,
        "overtaken": totals.overtaken,
        # An accepted plan goes on as it is while only stock and prices have moved.
        "stale": bool(changed) and phase != Phase.DONE,
        "sentence": sentence_of(phase, standing) if plan.is_accepted else "",
        "step": next_step(phase, standing) if plan.is_accepted else None,
        "tried": tried_shown(plan, season),
        "answer": summary.answer_of(season, result, today=today_of(organisation=organisation)),
        "common": summary.fetched_of(season, result),
        "asked": selectors.asked_of_common(plan=plan),
        "figures": coverage.figures_of(coverage.needs_of(season, result)),
        "cutting": cut_bundles.figures_of(result),
        "shorts": len(summary.shorts_of(season, result)),
        "remarks": bridge.remarks_of(season),
        "silent": bridge.silent_of(season, result),
        "line": answers.shown("parts/season/line.html", line=line) if line else "",
        "orders": order_table(request, plan, season, result, outdated=changed).as_html(request),
        "cut_proof": summary.count_proofs(result, summary.cut_proofs(season, result)),
        "buying_proof": summary.buying_proof(result),
        "more": summary.more_than_needed(season, result),
        "held": reserved_sums(reservations_of_plan(plan=plan)),
        "holding": selectors.houses_held_elsewhere(plan=plan),
    }


def order_table(
    request: HttpRequest,
    plan: Plan,
    season: bridge.Season,
    result: bridge.SeasonPlan,
    *,
    outdated: dict[int, list[str]] | None = None,
) -> OrderTable | TriedOrderTable:
    """The orders of a plan that was accepted; of one that was not, what it would order.

    ``outdated``: its houses that have changed, where the page has asked for them already.
    """
    if plan.accepted_at is None:
        rows = summary.tried_orders(season, result, number=plan.number)
        return TriedOrderTable(rows, plan=plan, organisation=request.organisation)
    if outdated is None:
        outdated = changed_houses(organisation=request.organisation, plans=[plan.pk])
    return OrderTable(
        orders_of_plan(organisation=plan.organisation, plan=plan.pk),
        organisation=request.organisation,
        exclude=["plan"],
        orderable=False,
        outdated=outdated,
    )


@require_GET
def progress(request: HttpRequest, number: int) -> JsonResponse:
    return JsonResponse(plan_or_404(request, number).progress)


@require_POST
@own_transactions
def run(request: HttpRequest, number: int) -> HttpResponse:
    """Start the work; the page asks how far it is."""
    start_plan(plan=plan_or_404(request, number))
    if not request.accepts("text/html"):
        return JsonResponse(plan_or_404(request, number).progress)
    return redirect("plans:plan", number=number)


@require_POST
def retry(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    services.try_plan_again(**actor_kwargs(request), plan=plan)
    start_once_stored(plan=plan)
    return redirect("plans:plan", number=number)


@require_POST
def end(request: HttpRequest, number: int) -> HttpResponse:
    services.end_plan_early(**actor_kwargs(request), plan=plan_or_404(request, number))
    return redirect("plans:plan", number=number)


@require_POST
def again(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    try:
        asked = services.plan_again(plan=plan, user=request.user, as_of=today_of(organisation=request.organisation))
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("plans:new")
    return _follow(request, asked)
