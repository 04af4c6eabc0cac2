"""The whole job in metres, typed page by page from nothing: one season in euros, one in yen, one in Kuwaiti dinars.

Coins of ISO 4217: euros have two decimals, yen none, Kuwaiti dinars three. Farms, suppliers and prices are invented;
pieces and sums were worked out on paper and stand beside the step that they belong to.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

import openpyxl
import pytest

from farmbuild.measure import THIN_SPACE, NumberStyle, places, read_decimal
from tests.season.books import pages_of
from tests.season.visitor import Visitor

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Country:
    """What is typed, in the writing of the country; and what it must come to, as exact numbers."""

    code: str
    currency: str
    sign: str
    tax: str
    tube: tuple[str, str]
    post: str
    screw: str
    film: str
    delivery: str
    wall: str
    #: Net of each line: 20 tubes, 4 post pipes, 1 roll of film, 100 screws; delivery; tax of each line; all of it.
    lines: tuple[str, str, str, str, str]
    taxes: tuple[str, str, str, str]
    total: str
    #: What each line bears of the delivery, by its value; the coins left over go to the largest parts of a coin.
    delivered: tuple[str, str, str, str]

    @property
    def style(self) -> NumberStyle:
        return NumberStyle(self.sign, THIN_SPACE)


COUNTRIES = [
    # 20 x 12.75; 4 x 21.90; 1189; 100 x 0.085 = 8.50; 45. A fifth of the goods: 51, 17.52, 237.80, 1.70.
    Country(
        "AT", "EUR", ",", "20",
        ("13,40", "12,75"), "21,90", "0,085", "1.189,00", "45", "1,5",
        ("255.00", "87.60", "1189.00", "8.50", "45.00"), ("51.00", "17.52", "237.80", "1.70"), "1893.12",
        ("7.45", "2.56", "34.74", "0.25"),
    ),
    # 20 x 1890; 4 x 3250; 24 800; 100 x 12.345 = 1234.5, so 1235; 5500. A tenth: 3780, 1300, 2480, 123.5 so 124.
    Country(
        "JP", "JPY", ".", "10",
        ("1980", "1 890"), "3250", "12.345", "24 800", "5500", "1.5",
        ("37800", "13000", "24800", "1235", "5500"), ("3780", "1300", "2480", "124"), "90019",
        ("2706", "931", "1775", "88"),
    ),
    # 20 x 1.985; 4 x 3.450; 28.750; 100 x 0.0123; 5. A twentieth: 1.985, 0.690, 1.4375 so 1.438, 0.0615 so 0.062.
    Country(
        "KW", "KWD", ".", "5",
        ("2.125", "1.985"), "3.450", "0.0123", "28.750", "5", "1.5",
        ("39.700", "13.800", "28.750", "1.230", "5.000"), ("1.985", "0.690", "1.438", "0.062"), "92.655",
        ("2.378", "0.826", "1.722", "0.074"),
    ),
]  # fmt: skip


class Walk(Visitor):
    def add(self, path: str, button: str, **typed: object) -> None:
        self.open(path)
        self.press(button, **typed)


@pytest.fixture(params=COUNTRIES, ids=[one.currency for one in COUNTRIES])
def country(request) -> Country:
    return request.param


def test_a_season_typed_from_nothing(client, country: Country) -> None:
    me = Walk(client)
    me.open("/")
    me.press(
        "Set up", name="Ada Invented", username="ada", password="pipe-and-plastic",
        organisation="Alder Bank (invented)", country=country.code,
    )  # fmt: skip
    me.add("/organisation/", "Save organisation", tax_name="Invented tax", tax_percent=country.tax)
    materials(me, country)
    offers(me, country)
    houses(me, country)
    order = planned(me)
    bought(me, order, country)
    built(me, country)


def materials(me: Walk, country: Country) -> None:
    def material(code: str, kind: str, **typed: object) -> None:
        me.add("/materials/new/", "Save the material", name=f"{code} (invented)", code=code, kind=kind, **typed)

    material("tube", "tube", width="25", thickness=country.wall, yield_mpa="235", yield_source="invented sheet")
    material("post", "tube", width="33.7".replace(".", country.sign), thickness="2.6".replace(".", country.sign))
    material("film", "film", width="7 m", thickness="200 µm")
    material("screw", "fastener")
    page = me.open("/materials/tube/edit/")
    assert {box.get("value") for box in page.root.all("input")} >= {"25 mm", f"{country.wall} mm"}


def offers(me: Walk, country: Country) -> None:
    me.add("/suppliers/new/", "Save the supplier", name="Invented Pipe", code="pipe", delivery_charge=country.delivery)

    def offer(material: str, price: str, more: str = "", **typed: object) -> None:
        breaks = {"prices-1-from_quantity": "10", "prices-1-unit_price": more} if more else {}
        me.add(
            "/suppliers/pipe/offers/new/", "Save the offer",
            material=f"{material} (", lead_days="7", **{"prices-0-unit_price": price}, **breaks, **typed,
        )  # fmt: skip

    # A stick of six metres, in the three ways in which it is typed.
    offer("tube", *country.tube, length="6000", pack="5")
    offer("post", country.post, length="6")
    offer("film", country.film, length="50 m")
    offer("screw", country.screw, pack="100")
    page = me.open("/suppliers/pipe/offers/").text
    assert "6 000 mm" in page


def houses(me: Walk, country: Country) -> None:
    me.add("/sites/new/", "Save the site", name="Lower field (invented)")
    for material, length, pieces in (("tube", "6 m", "4"), ("post", "6000 mm", "1")):
        me.add(
            "/stock/receive/", "Put into stock",
            material=f"{material} (", length=length, quantity=pieces, place_name="Rack", site="Lower field",
        )  # fmt: skip
    me.add("/hoops/benders/new/", "Save the bender", name="Jig", rated_radius="1000", rated_span="2")
    me.add(
        "/hoops/new/", "Save the recipe",
        name="Two metre hoop", tube="tube (", stick_length="6000", sticks="1", bender="Jig", radius="1000",
        first_mark="1450", pitch="200", stop_gap="25",
    )  # fmt: skip
    half = "1.5".replace(".", country.sign)
    for name, length, day in (("Ash", "12", "2027-04-12"), ("Birch", "9", "2027-04-19"), ("Cedar", "6", "2027-04-26")):
        me.open("/houses/new/")
        me.press("Start with a blank house")
        me.press(
            "Save the house",
            site="Lower field", name=name, need_date=day, post_span="2", length=length, spacing_wanted=half,
            recipe="Two metre hoop", post_material="post (", post_length="600", post_depth="450",
            post_socket_depth="100", post_fastener_material="screw (", fasteners_per_post="1",
            film_material="film (", film_layers="1", film_side_allowance="300", film_end_allowance="1000",
        )  # fmt: skip


def planned(me: Walk) -> str:
    """9, 7 and 5 hoops: 21 sticks, 4 there, 17 to buy in fives. 42 posts of 600 mm and a saw cut of 3 mm, 9 a stick:
    5 sticks, 1 there. Film 14, 11 and 8 m of a roll of 50 m."""
    me.open("/plans/new/")
    me.press("Work out the plan", name="Spring", houses=["Ash", "Birch", "Cedar"], delivery_site="Lower field")
    me.press("Work out the plan")
    plan = me.page.path
    assert not me.page.errors
    me.open(plan)
    me.press("Accept th")
    rows = me.open("/orders/").rows("Order", "Supplier", "State")
    (order,) = (row["Order"] for row in rows)
    return order


def bought(me: Walk, order: str, country: Country) -> None:
    """The order as its page says it, as its spreadsheet says it, and as it comes to on paper."""
    lines = dict(zip(("tube", "post", "film", "screw"), country.lines, strict=False))
    rows = me.open(f"/orders/{order}/").rows("Item", "Pieces")
    said = {row["Item"].split()[0]: row for row in rows}
    assert {name: row["Pieces"] for name, row in said.items()} == {
        "tube": "20", "post": "4", "film": "1", "screw": "100",
    }  # fmt: skip
    heading = f"Line total ({country.currency})"
    assert {name: read_decimal(row[heading], country.style) for name, row in said.items()} == {
        name: Decimal(net) for name, net in lines.items()
    }
    net, tax = (sum(map(Decimal, sums), Decimal(0)) for sums in (country.lines, country.taxes))
    assert Decimal(country.total) == net + tax
    assert f"{money(Decimal(country.total), country)}; order by" in me.page.html
    book = openpyxl.load_workbook(io.BytesIO(me.client.get(f"/orders/{order}/order.xlsx").content))
    paper = [[cell.value for cell in row if cell.value is not None] for row in book.worksheets[0].iter_rows()]
    for name, length in (("tube", 6000), ("post", 6000), ("film", 50000)):
        (line,) = (row for row in paper if f"{name} (invented)" in row)
        assert length in line and f"{length:,} mm" not in line
    me.open(f"/orders/{order}/send/")
    me.press("Mark as sent", how="by e-mail")
    lines = me.open(f"/orders/{order}/").rows("Item", "Pieces")
    at = {row["Item"].split()[0]: number for number, row in enumerate(lines, 1)}
    me.open(f"/orders/{order}/receive/")
    me.press("Receive", place="Rack", **{f"arrived-{at[name]}": row["Pieces"] for name, row in said.items()})


def money(amount: Decimal, country: Country) -> str:
    """Groups of three with a space that does not break, coins after the country's sign."""
    whole, _, coins = f"{amount:,f}".partition(".")
    figures = whole.replace(",", THIN_SPACE) + (country.sign + coins if coins else "")
    sign = {"EUR": "€", "JPY": "¥"}.get(country.currency, f"{country.currency}\N{NO-BREAK SPACE}")
    return f"{sign}{figures}"


def built(me: Walk, country: Country) -> None:
    """One hoop of Ash is bent and measured in millimetres, and the other eight follow; then what is left is counted.

    Pulls of 200 mm on a radius of 1 m make a half circle and legs: 2 m across the bend, and what the last pulls add.
    """
    me.open("/hoops/batches/new/?house=ash")
    batch = me.press("Make the batch", bender="Jig", spring_in="7").path
    held = pages_of(me, "/stock/held/", "For", "Held", "Where")
    mine = [row for row in held if row["For"] == "Ash" and row["Material"].startswith("tube")]
    lots = {row["Where"].split()[1]: int(row["Held"]) for row in mine}
    assert sum(lots.values()) == 9
    trial = min(lots)
    lots[trial] -= 1
    me.add(f"{batch}issue/", "Take them out of stock", lot=trial, quantity="1")
    me.add(f"{batch}trial/", "See whether it is right", free_span="2007", rise="2429")
    me.press("Accept this trial hoop")
    for lot, sticks in lots.items():
        if sticks:
            me.add(f"{batch}issue/", "Take them out of stock", lot=lot, quantity=str(sticks))
    me.add(f"{batch}bent/", "Record them", hoops="8")
    hoops = me.open("/houses/ash/held/").rows("For", "Needed")[0]
    assert (hoops["For"], hoops["Needed"], hoops["In the house"], hoops["Still to find"]) == ("hoops", "9", "9", "0")
    rows = me.open("/stock/season-end/").rows("Material", "Left", "Value")
    # 4 + 20 less 9 tubes, 1 + 4 post pipes, a roll and 100 screws; the first 4 and 1 were there and cost nothing.
    left = Counter[str]()
    for row in rows:
        if row["Material"] != "Sum":
            left[row["Material"].split()[0]] += int(row["Left"])
    assert left == {"tube": 15, "post": 5, "film": 1, "screw": 100}
    values = [read_decimal(row[f"Value ({country.currency})"], country.style) for row in rows]
    # 15 tubes of 20, and all of the rest, at what they cost with tax and delivery: the tax is not recovered.
    cost = [sum(map(Decimal, parts)) for parts in zip(country.lines, country.taxes, country.delivered, strict=False)]
    coins = Decimal(1).scaleb(-places(country.currency))
    worth = [(cost[0] * 15 / 20).quantize(coins, ROUND_HALF_UP), *cost[1:]]
    assert sum(values) == sum(worth)
    assert f"value of {money(sum(worth), country)}" in re.sub(r"[ \n]+", " ", me.page.html)
