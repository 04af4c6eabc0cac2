"""Accepting a plan, releasing it, and what a house holds."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from farmbuild.common.paging import paged
from farmbuild.plans import accepting, bridge
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan
from farmbuild.plans.putting_back import put_back, too_much_rows
from farmbuild.plans.reserving.piles import held_piles
from farmbuild.plans.reserving.selectors import late_pieces, reservations_of_plan
from farmbuild.plans.reserving.tables import HouseReservationTable
from farmbuild.plans.tables import HouseBalanceTable, TooMuchTable
from farmbuild.plans.views.plans import plan_or_404
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.models import House
from farmbuild.stock.piles.presenters import picture_of
from farmbuild.stock.reserving.selectors import own_reservations_of, reservations_for_house, reserved_sums

ROWS = 16


@require_POST
def accept(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    try:
        accepting.accept_plan(organisation=request.organisation, user=request.user, plan=plan)
    except accepting.NotReserved as error:
        return not_reserved(request, plan, error)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request,
            gettext("Plan %(plan_number)s is accepted: what it uses is held for its houses.")
            % {"plan_number": plan.number},
        )
    return redirect("plans:plan", number=number)


def not_reserved(request: HttpRequest, plan: Plan, error: accepting.NotReserved) -> HttpResponse:
    rows = _missing_rows(plan, error.rows)
    return render(request, "plans/not_held.html", {"plan": plan, "rows": rows}, status=409)


def _missing_rows(plan: Plan, rows: list[accepting.Missing]) -> list[dict[str, Any]]:
    """In the words of the reader."""
    season = bridge.season_of(plan)
    names = {material.code: material.name for material in season.materials}
    houses = bridge.house_names(season)
    return [
        {
            "source": row.source,
            "material": names[row.want.material],
            "length": row.want.length,
            "missing": row.missing,
            "quantity": row.want.quantity,
            "house": houses[row.want.house],
            "purpose": row.want.purpose,
            "holders": row.holders,
        }
        for row in rows
    ]


def release(request: HttpRequest, number: int) -> HttpResponse:
    plan = plan_or_404(request, number)
    if request.method == "POST":
        try:
            accepting.release_plan(organisation=request.organisation, user=request.user, plan=plan)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(
                request,
                gettext("Plan %(plan_number)s is released; nothing is held by it.") % {"plan_number": plan.number},
            )
        return redirect("plans:plan", number=number)
    rows = reservations_of_plan(plan=plan)
    names = [house.name for house in accepting.accepted_houses(plan=plan)]
    return render(request, "plans/release.html", {"plan": plan, "sums": reserved_sums(rows), "names": names})


def _house(request: HttpRequest, slug: str) -> House:
    return house_or_404(organisation=request.organisation, slug=slug)


@require_GET
def house_held(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    rows = reservations_for_house(house=house)
    table = HouseReservationTable(rows, house=house, organisation=request.organisation)
    paged(request, table, rows=ROWS)
    context = {
        "house": house,
        "plan": accepting.house_plan(house=house),
        "sums": reserved_sums(rows),
        "late": late_pieces(rows, house=house),
        "table": table,
        "picture": picture_of(held_piles(own_reservations_of(house=house)), organisation=request.organisation),
    } | _balance(request, house)
    return render(request, "plans/house_held.html", context)


def _balance(request: HttpRequest, house: House) -> dict[str, Any]:
    """Nothing for a house that cannot be built as it is specified."""
    organisation = request.organisation
    if spec_problems(house, organisation.unit_system):
        return {}
    balance = balances(organisation=organisation, houses=[house])[house.pk]
    over = too_much_rows(balance, house)
    return {
        "balance": balance,
        "balance_table": HouseBalanceTable(balance.rows, organisation=organisation, orderable=False),
        "too_much_table": TooMuchTable(over, house=house, request=request, orderable=False) if over else None,
    }


@require_POST
def house_put_back(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    try:
        told = put_back(
            organisation=request.organisation, user=request.user, house=house, key=request.POST.get("row", "")
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, told)
    return redirect("plans:house-held", house.slug)


def house_release(request: HttpRequest, slug: str) -> HttpResponse:
    house = _house(request, slug)
    if request.method == "POST":
        try:
            accepting.release_house(organisation=request.organisation, user=request.user, house=house)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(request, gettext("%(house_name)s holds nothing any more.") % {"house_name": house.name})
        return redirect("plans:house-held", house.slug)
    plan = accepting.house_plan(house=house)
    if plan is None:
        return redirect("plans:house-held", house.slug)
    rows = own_reservations_of(house=house)
    return render(request, "plans/release.html", {"plan": plan, "house": house, "sums": reserved_sums(rows)})
