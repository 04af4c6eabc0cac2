"""Orders looked at line by line: what they cover, packs, price breaks, delivery, tax, and sums to the coin."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from tests.outside.books import Project
from tests.outside.cuts import sizes, to_buy
from tests.outside.typed import coins


def price(offer: Mapping[str, str], quantity: int) -> Decimal:
    """Of one, at the highest break that the quantity reaches."""
    reached = [
        (int(offer[f"from_{n}"]), Decimal(offer[f"price_{n}"]))
        for n in (1, 2, 3)
        if offer.get(f"from_{n}") and int(offer[f"from_{n}"]) <= quantity
    ]
    return max(reached)[1]


def included(project: Project) -> bool:
    return project.answers.get("prices") == "with tax"


def tax(project: Project, material: str, total: Decimal) -> Decimal:
    """Added to the total, or the part of it that makes it the untaxed price; a material's own where it has one."""
    percent = Decimal(project.materials[material].get("tax_percent") or project.answers["tax_percent"])
    return coins(total - total / (1 + percent / 100) if included(project) else total * percent / 100)


def line_problems(project: Project, line: Mapping[str, Any]) -> list[str]:
    offer = project.offers[line["offer"]]
    pack, quantity = int(offer.get("pack") or 1), line["quantity"]
    total = coins(quantity * price(offer, quantity))
    ordered, needed = date.fromisoformat(project.answers["as_of"]), date.fromisoformat(line["need_by"])
    # Of what may come any day nobody can say that it is late.
    late = (ordered + timedelta(int(offer["lead_days"])) - needed).days if offer.get("lead_days") else 0
    checks = {
        "material": (line["material"], offer["material"]),
        "pack": (line["pack"], pack),
        "whole packs": (line["packs"] * pack, quantity),
        "enough": (quantity >= line["needed"], True),
        "price": (Decimal(line["unit_price"]), price(offer, quantity)),
        "line total": (Decimal(line["line_total"]), total),
        "tax": (Decimal(line["tax"]), tax(project, line["material"], total)),
        "days late": (line["late_days"], max(0, late)),
    }
    return [f"{line['offer']}: {what} is {told}, {own} here" for what, (told, own) in checks.items() if told != own]


def order_problems(project: Project, order: Mapping[str, Any]) -> list[str]:
    """Down the lines and across the sums."""
    supplier = project.suppliers[order["supplier"]]
    found = [problem for line in order["lines"] for problem in line_problems(project, line)]
    goods, taxes = (sum(Decimal(line[name]) for line in order["lines"]) for name in ("line_total", "tax"))
    added = Decimal(0) if included(project) else taxes
    free = supplier.get("free_delivery_from")
    delivery = Decimal(0) if free and goods >= Decimal(free) else coins(Decimal(supplier.get("delivery_charge") or 0))
    lines = sum(
        Decimal(line["line_total"]) + (0 if included(project) else Decimal(line["tax"])) for line in order["lines"]
    )
    for what, own in (
        ("goods", goods),
        ("tax", taxes),
        ("delivery", delivery),
        ("total", goods + added + delivery),
        ("total", lines + delivery),
    ):
        if Decimal(order[what]) != own:
            found.append(f"{order['supplier']}: {what} is {order[what]}, {own} here")
    if any(project.offers[line["offer"]]["supplier"] != order["supplier"] for line in order["lines"]):
        found.append(f"{order['supplier']} is asked for what another sells")
    return found


def buying_problems(project: Project, plan: Mapping[str, Any]) -> list[str]:
    """Every order by itself; all that is to be bought is ordered, and nothing that is not; what it costs in all."""
    found = [problem for order in plan["orders"] for problem in order_problems(project, order)]
    ordered: Counter[Any] = Counter()
    needed: Counter[Any] = Counter()
    for order in plan["orders"]:
        for line in order["lines"]:
            ordered[line["material"], line["length"]] += line["quantity"]
            needed[line["material"], line["length"]] += line["needed"]
            if Decimal(line["length"] or 0) != (sizes(project, project.offers)[line["offer"]] or 0):
                found.append(f"{line['offer']} is not {line['length']} long")
    want = to_buy(project, plan)
    found += [
        f"{item}: {want[item]} to buy, {needed[item]} told, {ordered[item]} ordered"
        for item in want.keys() | ordered.keys()
        if needed[item] != want[item] or ordered[item] < want[item]
    ]
    cost = sum(Decimal(order["goods"]) + Decimal(order["delivery"]) for order in plan["orders"])
    if Decimal(plan["buying"]["cost"]) != cost or Decimal(plan["buying"]["bound"]) > cost:
        found.append(f"all cost {plan['buying']['cost']}, {cost} here, {plan['buying']['bound']} at least")
    return found
