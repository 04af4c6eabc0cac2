"""The parts of a ready plan, each a page of its own."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from farmbuild.common.paging import paged
from farmbuild.common.reading import units_of
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.answers.pages import kept_page
from farmbuild.orgs.clock import today_of
from farmbuild.plans import bridge, coverage, cut_bundles, cut_strips, leftover_rows, selectors, summary, tables
from farmbuild.plans.chances.presenters import chances_shown
from farmbuild.plans.models import Plan
from farmbuild.plans.views.plans import order_table, plan_changes, plan_or_404

ROWS_A_PAGE = 25
#: On the screen; paper has all of them.
STRIPS_A_PAGE = 12

Part = Callable[..., HttpResponse]


def of_ready_plan(view: Part) -> Part:
    """The view gets the plan with its season and result; a plan that is not ready shows its first page.

    The page says at its top, on paper too, when the plan does not hold any more.
    """

    @require_GET
    @wraps(view)
    def wrapped(request: HttpRequest, number: int, **kwargs: Any) -> HttpResponse:
        plan = plan_or_404(request, number)
        if plan.state != Plan.State.READY:
            return redirect("plans:plan", number=number)
        season, result = plan.snapshot()
        with Answers(request, dear=True) as answers:
            request.answers = answers
            plan.changed = bool(plan_changes(answers, plan))
            return view(request, plan, season, result, **kwargs)

    return wrapped


def _paged(request: HttpRequest, table: Any, rows: int = ROWS_A_PAGE) -> Any:
    paged(request, table, rows=rows)
    return table


@of_ready_plan
def needs(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    found = coverage.needs_of(season, result)
    figures = coverage.figures_of(found)
    hidden = [name for name in ("missing", "in_house") if not getattr(figures, name)]
    totals = tables.TotalTable(coverage.totals_of(found), prefix="m-", exclude=hidden)
    houses = tables.HouseTable(coverage.houses_of(season, found), plan=plan, prefix="h-", exclude=hidden)
    context = {
        "plan": plan,
        "figures": figures,
        "house_count": len(season.houses),
        "totals": _paged(request, totals),
        "houses": _paged(request, houses),
    }
    return render(request, "plans/needs.html", context)


@of_ready_plan
def in_time(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    shown = chances_shown(organisation=request.organisation, season=season, result=result)
    return render(request, "plans/chances.html", {"plan": plan, "shown": shown})


@of_ready_plan
def house_needs(
    request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan, ref: str
) -> HttpResponse:
    house = next((house for house in season.houses if house.ref == ref), None)
    if house is None:
        raise Http404
    found = coverage.needs_of(season, result, house=ref)
    context = {"plan": plan, "house": house, "needs": found, "figures": coverage.figures_of(found)}
    return render(request, "plans/house_needs.html", context)


@kept_page("cutting page")
@of_ready_plan
def cutting(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    asked = request.GET.urlencode()
    found = request.answers.watched("cutting", lambda: _cutting_shown(request, plan, season, result), plan, asked)
    return render(request, "plans/cutting.html", {"plan": plan} | found)


def _cutting_shown(
    request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan
) -> dict[str, Any]:
    bundles = cut_bundles.bundles_of(season, result)
    materials = {bundle.material.code: bundle.material.name for bundle in bundles}
    houses = bridge.house_names(season)
    material, house = request.GET.get("material", ""), request.GET.get("house", "")
    by_house = house in houses or request.GET.get("by") == "house"
    if by_house:
        named = {ref: name for ref, name in houses.items() if house in ("", ref) or house not in houses}
        strips = cut_strips.by_house(bundles, named, units_of(request.organisation))
    else:
        wanted = [bundle for bundle in bundles if material not in materials or material == bundle.material.code]
        strips = cut_strips.by_material(wanted, units_of(request.organisation))
    page = Paginator(strips, STRIPS_A_PAGE).get_page(request.GET.get("page"))
    rows = cut_strips.rows_of(strips, page.start_index(), page.end_index(), cut_bundles.longest_sticks(result))
    proofs = summary.cut_proofs(season, result)
    trims = cut_bundles.trims_of(season, result)
    return {
        "strips": request.answers.shown("plans/strips.html", plan=plan, rows=rows, by_house=by_house),
        # The same page, of numbers in the place of strips.
        "page": Paginator(range(len(strips)), STRIPS_A_PAGE).get_page(page.number),
        "by_house": by_house,
        "materials": materials,
        "houses": houses,
        "wanted": house or material,
        "figures": cut_bundles.figures_of(result),
        "cut_proof": summary.count_proofs(result, proofs),
        "proofs": _paged(request, tables.ProofTable(proofs, prefix="p-")).as_html(request),
        "trims": _paged(request, tables.TrimTable(trims, prefix="t-")).as_html(request) if trims else "",
    }


@of_ready_plan
def shortfall(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    rows = summary.short_rows(season, result)
    offered = selectors.offered_since(organisation=request.organisation, season=season, result=result)
    gaps = summary.gap_rows(season, result, offered=offered)
    context = {
        "plan": plan,
        "rows": rows,
        "gaps": gaps,
        "things": len(summary.shorts_of(season, result)),
        "table": _paged(request, tables.ShortfallTable(rows, prefix="s-")),
        "gap_table": _paged(request, tables.GapTable(gaps, plan=plan, prefix="g-")),
        "offered": summary.offered_rows(gaps),
    }
    return render(request, "plans/shortfall.html", context)


@of_ready_plan
def leftovers(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    rows = leftover_rows.rows_of(season, result)
    page = Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "plan": plan,
        "result": result,
        "season": season,
        "offcuts": leftover_rows.offcut_pieces(rows),
        "page": page,
        "bars": leftover_rows.bars_of(rows, page.object_list, request.organisation.unit_system),
        "balances": _paged(request, tables.BalanceTable(leftover_rows.balances_of(season, result), prefix="b-")),
    }
    return render(request, "plans/leftovers.html", context)


@of_ready_plan
def orders(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    context = {
        "plan": plan,
        "result": result,
        "answer": summary.answer_of(season, result, today=today_of(organisation=request.organisation)),
        "common": summary.fetched_of(season, result),
        "asked": selectors.asked_of_common(plan=plan),
        "table": _paged(request, order_table(request, plan, season, result)),
        "buying_proof": summary.buying_proof(result),
        "more": summary.more_than_needed(season, result),
        "slips": bridge.slips_of(season, result),
        "silent": bridge.silent_of(season, result),
    }
    return render(request, "plans/orders.html", context)
