"""Workbooks of a season plan: plain planning values in, files out. The site and the command line use the same."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import NamedTuple

from farmbuild.planning.inputs import Season, Site, Supplier
from farmbuild.planning.results import Order, SeasonPlan
from farmbuild.planning.season.snapshot import plan_to_json
from farmbuild.workbooks.cut_lists import cut_list_workbook
from farmbuild.workbooks.leftovers import leftovers_workbook
from farmbuild.workbooks.orders import order_workbook
from farmbuild.workbooks.quotes import quote_workbook
from farmbuild.workbooks.takeoffs import takeoff_workbook
from farmbuild.workbooks.words import safe_name

__all__ = [
    "XLSX",
    "PlanFile",
    "count_plan_files",
    "cut_list_workbook",
    "leftovers_workbook",
    "order_file_name",
    "order_workbook",
    "plan_files",
    "planned_order_file",
    "quote_workbook",
    "safe_name",
    "takeoff_workbook",
]

#: Media type of every workbook here (ECMA-376 part 1, 12.1).
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class PlanFile(NamedTuple):
    name: str
    data: bytes


def order_file_name(number: str, supplier: Supplier) -> str:
    return f"order-{safe_name(number)}-{safe_name(supplier.name)}.xlsx"


def count_plan_files(plan: SeasonPlan) -> int:
    return len(plan.orders) + 4


def plan_files(season: Season, plan: SeasonPlan, *, number_prefix: str) -> Iterator[PlanFile]:
    """Every file of a plan, one at a time: the orders by supplier code, cut list, take-off, leftovers, plan.json.

    Orders are numbered from 1 after ``number_prefix``. Names hold no path and are unlike each other.
    """
    for at, order in enumerate(_in_order(plan), 1):
        yield planned_order_file(season, order, number=f"{number_prefix}-{at}")
    yield PlanFile("cut-list.xlsx", cut_list_workbook(season=season, plan=plan))
    yield PlanFile("take-off.xlsx", takeoff_workbook(season=season, plan=plan))
    yield PlanFile("leftovers.xlsx", leftovers_workbook(season=season, plan=plan))
    text = json.dumps(plan_to_json(plan), ensure_ascii=False, indent=1, sort_keys=True)
    yield PlanFile("plan.json", f"{text}\n".encode())


def planned_order_file(season: Season, order: Order, *, number: str, trial: bool = False) -> PlanFile:
    """An order of a plan. ``trial``: of a plan that is only tried; it says that nothing is ordered by it."""
    supplier = next(one for one in season.suppliers if one.code == order.supplier)
    sites = {site.code: site for site in season.sites}
    data = order_workbook(
        order=order,
        number=number,
        buyer=season.buyer,
        supplier=supplier,
        site=sites.get(order.delivery_site) or Site(order.delivery_site, order.delivery_site),
        order_date=season.as_of,
        materials={material.code: material for material in season.materials},
        trial=trial,
    )
    name = order_file_name(number, supplier)
    return PlanFile(f"trial-{name}" if trial else name, data)


def _in_order(plan: SeasonPlan) -> list[Order]:
    return sorted(plan.orders, key=lambda order: order.supplier)
