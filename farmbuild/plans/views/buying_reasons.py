"""Why each offer of a plan was taken, against the next best."""

from __future__ import annotations

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy

from farmbuild.common.paging import paged
from farmbuild.common.speaking import said
from farmbuild.common.tables import FarmTable
from farmbuild.plans import bridge, summary
from farmbuild.plans.models import Plan
from farmbuild.plans.views.parts import ROWS_A_PAGE, of_ready_plan


class WhyTable(FarmTable):
    """Rows are pairs of what was bought and why."""

    material = tables.Column(gettext_lazy("Bought"), orderable=False)
    why = tables.Column(gettext_lazy("Why this offer"), orderable=False)


@of_ready_plan
def why(request: HttpRequest, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> HttpResponse:
    rows = [{"material": bought, "why": said(why)} for bought, why in bridge.why_offers(plan)]
    table = WhyTable(rows)
    paged(request, table, rows=ROWS_A_PAGE)
    context = {
        "plan": plan,
        "rows": rows,
        "table": table,
        "slips": bridge.slips_of(season, result),
        "silent": bridge.silent_of(season, result),
        "answer": {"orders": len(result.orders)},
        "buying_proof": summary.buying_proof(result),
    }
    return render(request, "plans/why_offers.html", context)
