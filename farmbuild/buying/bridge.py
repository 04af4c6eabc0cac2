"""What the planner says to buy, as fields of purchase orders and their lines; what is to come, for the planner."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.buying.incoming import line_name
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.bridge import buyer_input, material_input, supplier_input
from farmbuild.measure import format_money
from farmbuild.orgs.clock import today_of
from farmbuild.planning.buying.plan import tube_weight
from farmbuild.planning.buying.sums import OrderSums, line_sums
from farmbuild.planning.buying.surplus import why_more
from farmbuild.planning.inputs import Buyer, Lot, Season, Site, Supplier
from farmbuild.planning.materials import Material
from farmbuild.planning.results import Order, OrderLine
from farmbuild.sites import models
from farmbuild.sites.bridge import site_input


def numbered(orders: Iterable[Order], plan_number: int) -> dict[str, Order]:
    """The plan's number and a counter, in the order of supplier codes: 7-1, 7-2."""
    in_order = sorted(orders, key=lambda order: order.supplier)
    return {f"{plan_number}-{count}": order for count, order in enumerate(in_order, start=1)}


def planned_number(number: str) -> str:
    """The number under which the plan has the order: 7-1 also of 7-1-2, its second after the first was cancelled."""
    return "-".join(number.split("-")[:2])


def order_fields(order: Order | PurchaseOrder) -> dict[str, Any]:
    names = ("order_by", "need_by", "goods", "delivery", "tax", "total", "tax_included")
    return {name: getattr(order, name) for name in names}


def line_fields(line: OrderLine | PurchaseOrderLine) -> dict[str, Any]:
    names = (
        "description",
        "supplier_code",
        "length",
        "needed",
        "pack",
        "quantity",
        "unit_price",
        "line_total",
        "tax",
        "tax_percent",
        "need_by",
        "late_days",
    )
    return {name: getattr(line, name) for name in names}


def why_more_of(line: PurchaseOrderLine) -> str:
    """Why there is more on the line than is needed; ``line.order.supplier`` is loaded."""
    order = line.order
    return why_more(
        needed=line.needed,
        pack=line.pack,
        quantity=line.quantity,
        unit_price=line.unit_price,
        goods=order.goods,
        supplier=supplier_input(order.supplier),
        money=lambda amount: format_money(amount, order.currency),
    )


@dataclass(frozen=True)
class OrderSheet:
    """All that the workbook of an order is made of. ``deliver_to``: a line's place, where any goes elsewhere."""

    order: Order
    buyer: Buyer
    supplier: Supplier
    site: Site
    order_date: date
    materials: Mapping[str, Material]
    deliver_to: tuple[str, ...] = ()
    note: str = ""


def order_sheet(order: PurchaseOrder) -> OrderSheet:
    """As the plan has it while the order follows it; else as the order stands, with the supplier as he is now."""
    return _planned(order, *order.plan.snapshot()) if order.follows_plan else _by_hand(order)


def _planned(order: PurchaseOrder, season: Season, result: Any) -> OrderSheet:
    planned = numbered(result.orders, order.plan.number)[planned_number(order.number)]
    return OrderSheet(
        order=planned,
        buyer=season.buyer,
        supplier=next(one for one in season.suppliers if one.code == planned.supplier),
        site=next(site for site in season.sites if site.code == planned.delivery_site),
        order_date=season.as_of,
        materials={material.code: material for material in season.materials},
    )


def _by_hand(order: PurchaseOrder) -> OrderSheet:
    rows = list(order.lines.select_related("material", "delivery_site"))
    materials = {row.material.code: material_input(row.material) for row in rows}
    elsewhere = any(row.delivery_site_id for row in rows)
    return OrderSheet(
        order=_order(order, rows, materials),
        buyer=replace(
            buyer_input(order.organisation),
            tax_percent=tax_percent_of(order),
            prices_include_tax=order.tax_included,
            currency=order.currency,
        ),
        supplier=supplier_input(order.supplier),
        site=site_input(order.delivery_site),
        order_date=today_of(organisation=order.organisation),
        materials=materials,
        deliver_to=tuple(_address(row.delivery_site or order.delivery_site) for row in rows) if elsewhere else (),
        note=order.note,
    )


def _address(site: models.Site) -> str:
    return ", ".join(filter(None, [site.name, *site.address.split("\n")]))


def _order(order: PurchaseOrder, rows: Sequence[PurchaseOrderLine], materials: Mapping[str, Material]) -> Order:
    lines = tuple(OrderLine(offer="", material=row.material.code, packs=row.packs, **line_fields(row)) for row in rows)
    return Order(
        supplier=order.supplier.code,
        delivery_site=order.delivery_site.slug,
        lines=lines,
        weight_kg=tube_weight(lines, materials),
        **order_fields(order),
    )


def tax_percent_of(order: PurchaseOrder) -> Decimal:
    """By which those of the order's lines were worked out that say no other."""
    return order.plan.snapshot()[0].buyer.tax_percent if order.tax_percent is None else order.tax_percent


def sums_of(order: PurchaseOrder, lines: Iterable[tuple[int, Decimal, Decimal | None]]) -> OrderSums:
    """Of lines of quantity, price and percent of tax, rounded line by line as the planner does; delivery as ordered.

    ``None`` for a percent is the order's.
    """
    rows = list(lines)
    usual = tax_percent_of(order) if any(percent is None for *_, percent in rows) else Decimal(0)
    sums = [
        line_sums(
            quantity,
            price,
            tax_percent=usual if percent is None else percent,
            currency=order.currency,
            tax_included=order.tax_included,
        )
        for quantity, price, percent in rows
    ]
    goods, tax = sum((line.total for line in sums), Decimal(0)), sum((line.tax for line in sums), Decimal(0))
    return OrderSums(goods, order.delivery, tax, order.tax_included)


def incoming_lot(line: PurchaseOrderLine, quantity: int, *, as_of: date) -> Lot:
    """``quantity`` pieces of what is to come as a planning lot, at the price of the order.

    What should have come before ``as_of`` may come on that day.
    """
    due, site = line.due_on, line.delivery_site
    return Lot(
        ref=line_name(line),
        material=line.material.code,
        length=line.length,
        quantity=quantity,
        unit_cost=line.price_now,
        place=f"on order, due {due.day} {due:%B %Y}{f', to {site.name}' if site else ''}",
        # The plan says where its order goes; what goes elsewhere serves the houses there first.
        site=site.slug if site else "",
        available_from=max(due, as_of),
    )
