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
    materials = {material.code: material for material in season.materials}
    suppliers = {supplier.code: supplier for supplier in season.suppliers}
    sites = {site.code: site for site in season.sites}
    for at, order in enumerate(_in_order(plan), 1):
        number, supplier = f"{number_prefix}-{at}", suppliers[order.supplier]
        data = order_workbook(
            order=order,
            number=number,
            buyer=season.buyer,
            supplier=supplier,
            site=sites.get(order.delivery_site) or Site(order.delivery_site, order.delivery_site),
            order_date=season.as_of,
            materials=materials,
        )
        yield PlanFile(order_file_name(number, supplier), data)
    yield PlanFile("cut-list.xlsx", cut_list_workbook(season=season, plan=plan))
    yield PlanFile("take-off.xlsx", takeoff_workbook(season=season, plan=plan))
    yield PlanFile("leftovers.xlsx", leftovers_workbook(season=season, plan=plan))
    text = json.dumps(plan_to_json(plan), ensure_ascii=False, indent=1, sort_keys=True)
    yield PlanFile("plan.json", f"{text}\n".encode())


def _in_order(plan: SeasonPlan) -> list[Order]:
    return sorted(plan.orders, key=lambda order: order.supplier)
