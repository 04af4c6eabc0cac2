"""What the pages say of each material at one moment, read off as somebody would who compares them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from tests.season.visitor import Visitor, number


@dataclass(frozen=True)
class Line:
    """One material over the houses: needed = in the houses + held in stock + held on order + still to find."""

    needed: int
    in_houses: int
    held: int
    on_order: int
    to_find: int = 0


def _added(rows: Iterable[dict[str, str]], headings: Iterable[str], name: str = "Material") -> dict[str, Counter[str]]:
    """Figures under ``headings`` by the first word under ``name``; the foot of a table is left out."""
    found: dict[str, Counter[str]] = {}
    for row in rows:
        if row[name] != "Sum":
            figures = found.setdefault(row[name].replace(",", " ").split()[0], Counter())
            for heading in headings:
                figures[heading] += number(row.get(heading, ""))
    return found


def pages_of(me: Visitor, path: str, *headings: str) -> list[dict[str, str]]:
    """Rows of a list on all its pages."""
    rows, at = [], path
    while at:
        rows += me.open(at).rows(*headings)
        onward = next((a.get("href") for a in me.page.root.all("a") if a.get("rel") == "next"), "")
        at = path + onward if onward else ""
    return rows


def of_houses(me: Visitor, houses: Iterable[str]) -> dict[str, Line]:
    """What each house has and holds, on its own page, added up."""
    columns = ("Needed", "In the house", "Held in stock", "Held on order", "Still to find")
    rows: list[dict[str, str]] = []
    for house in houses:
        rows += me.open(f"/houses/{house.lower()}/held/").rows("For", *columns)
    return {name: Line(*(f[column] for column in columns)) for name, f in _added(rows, columns).items()}


def of_plan(me: Visitor, plan: str) -> dict[str, Counter[str]]:
    """What the plan needs, has in the houses, takes from stock and from orders that are out, and buys."""
    columns = ("Needed", "In the houses", "From the yard", "To buy")
    return _added(me.open(f"/plans/{plan}/needs/").rows("Material", "Used", "Needed"), columns)


def bought(me: Visitor, plan: str) -> dict[str, Counter[str]]:
    """What the plan is short of."""
    return _added(me.open(f"/plans/{plan}/shortfall/").rows("Material", "Short", "Ordered from"), ("Short",))


def of_orders(me: Visitor) -> dict[str, Counter[str]]:
    """Lines of all orders that stand: pieces ordered, come whole, still on order."""
    columns = ("Pieces", "Came whole", "Still on order")
    rows: list[dict[str, str]] = []
    for order in me.open("/orders/").rows("Order", "Supplier", "State"):
        if not order["State"].startswith("Cancelled"):
            rows += me.open(f"/orders/{order['Order']}/").rows("Item", "Pieces")
    return _added(rows, columns, "Item")


def of_shortages(me: Visitor) -> dict[str, Counter[str]]:
    """What runs short: on hand, held, on order, needed and not ordered, short at most."""
    rows = me.open("/stock/availability/").rows("Material", "On hand", "Short at most")
    return _added(rows, ("On hand", "Held", "On order", "Needed", "Short at most"))


def of_holds(me: Visitor) -> dict[str, Counter[str]]:
    """Who holds what: in lots and on order, all pages of the list."""
    found: dict[str, Counter[str]] = {}
    for row in pages_of(me, "/stock/held/", "For", "Held", "Where"):
        where = "lot" if row["Where"].startswith("Lot") else "order"
        found.setdefault(row["Material"], Counter())[where] += number(row["Held"])
    return found


def of_leftovers(me: Visitor) -> dict[str, Counter[str]]:
    """What is left when the season ends."""
    return _added(me.open("/stock/season-end/").rows("Material", "Left", "Value"), ("Left", "Value (USD)"))


def left_by(me: Visitor, plan: str) -> dict[str, int]:
    """What the plan leaves over, in the yard and of what it orders or waits for."""
    found: Counter[str] = Counter()
    material = ""
    for part in me.open(f"/plans/{plan}/leftovers/").root.all("h2", "section"):
        if "left-bar" in part.get("class").split():
            found[material] += number(next(part.all("strong")).text.rstrip(" ×"))
        else:
            material = part.text.replace(",", " ").split()[0]
    return dict(found)
