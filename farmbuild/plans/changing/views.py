"""A change to houses whose orders went out: worked out, looked at, accepted as one act, taken as a spreadsheet."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from farmbuild.catalogue.selectors import materials_of
from farmbuild.common.paging import paged
from farmbuild.orgs.clock import today_of
from farmbuild.plans import accepting, bridge
from farmbuild.plans.changing.services import accept_change, plan_change
from farmbuild.plans.changing.tables import WHAT, ChangeTable
from farmbuild.plans.house_changes import HouseChange, Kind, change_of
from farmbuild.plans.models import Plan
from farmbuild.plans.tasks import start_once_stored
from farmbuild.plans.views.accepting import not_reserved
from farmbuild.plans.views.files import attachment
from farmbuild.plans.views.plans import plan_or_404
from farmbuild.sites.lookup import house_or_404
from farmbuild.workbooks.changes import ChangeLine, change_workbook
from farmbuild.workbooks.services import XLSX

ROWS = 50


@require_POST
def start(request: HttpRequest, slug: str) -> HttpResponse:
    house = house_or_404(organisation=request.organisation, slug=slug)
    today = today_of(organisation=request.organisation)
    try:
        asked = plan_change(organisation=request.organisation, user=request.user, house=house, as_of=today)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("plans:house-held", house.slug)
    if asked.plan.is_accepted:
        messages.info(
            request,
            gettext("Nothing has changed since plan %(plan_number)s was accepted.")
            % {"plan_number": asked.plan.number},
        )
        return redirect("plans:plan", number=asked.plan.number)
    start_once_stored(plan=asked.plan)
    return redirect("plans:change" if asked.plan.state == Plan.State.READY else "plans:plan", number=asked.plan.number)


def show(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    if request.method == "POST":
        return _accept(request, plan)
    if plan.state != Plan.State.READY or plan.is_accepted:
        return redirect("plans:plan", number=number)
    return render(request, "plans/changing/change.html", _context(request, plan, change_of(plan=plan)))


@require_GET
def workbook(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    if plan.state != Plan.State.READY or plan.is_accepted:
        return redirect("plans:plan", number=number)
    season, names = bridge.season_of(plan), _names(request)
    lines = [
        ChangeLine(
            material=names.get(row.material, row.material) if row.material else "Delivery",
            length=row.length,
            quantity=row.pieces,
            what=WHAT[row.kind],
            supplier=row.supplier,
            order=row.order,
            there_on=row.day,
            days_late=row.late_days,
            money=row.money,
        )
        for row in change_of(plan=plan).rows
    ]
    data = change_workbook(
        lines=lines,
        title=f"What plan {plan.number} changes",
        day=season.as_of,
        author=season.buyer.name,
        units=season.buyer.units,
        currency=season.buyer.currency,
    )
    return attachment(data, f"change-{plan.number}.xlsx", XLSX)


def _accept(request: HttpRequest, plan: Plan) -> HttpResponse:
    try:
        accept_change(
            organisation=request.organisation, user=request.user, plan=plan, seen=request.POST.get("seen", "")
        )
    except accepting.NotReserved as error:
        return not_reserved(request, plan, error)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("plans:change", number=plan.number)
    messages.success(
        request,
        gettext("The change is accepted: plan %(plan_number)s orders and holds what its houses need now.")
        % {"plan_number": plan.number},
    )
    return redirect("plans:plan", number=plan.number)


def _names(request: HttpRequest) -> dict[str, str]:
    return {row.code: row.name for row in materials_of(organisation=request.organisation)}


def _context(request: HttpRequest, plan: Plan, change: HouseChange) -> dict[str, Any]:
    names = _names(request)
    table = ChangeTable(change.rows, names=names, organisation=request.organisation)
    paged(request, table, rows=ROWS)
    latest = change.latest
    return {
        "plan": plan,
        "change": change,
        "table": table,
        "latest": latest,
        "latest_name": names.get(latest.material, latest.material) if latest else "",
        "to_ask": change.count(Kind.SENT),
        "lies_over": change.count(Kind.YARD),
    }
