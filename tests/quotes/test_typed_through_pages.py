"""The worked example of a job against its quote, begun with nothing and typed through pages alone."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.buying.models import PurchaseOrder
from farmbuild.catalogue.models import Material, Supplier
from farmbuild.costs.models import Equipment
from farmbuild.crew.models import Person
from farmbuild.orgs.clock import today_of
from farmbuild.quotes.models import Bill, Customer, Job, JobHouse, Option
from farmbuild.sites.models import Site
from farmbuild.stock.models import Lot
from tests.quotes.begun import lines_of
from tests.quotes.built import Built
from tests.quotes.test_pages import RATES
from tests.quotes.typing import Typing

pytestmark = pytest.mark.django_db
D = Decimal
#: Name, kind, width, thickness.
THINGS = (
    ("Rail", "tube", '1.375"', '0.065"'),
    ("Film", "hardware", "", ""),
    ("2x6", "lumber", '5.5"', '1.5"'),
    ("2x4", "lumber", '3.5"', '1.5"'),
    ("Screw", "fastener", "", ""),
    ("Delivery", "hardware", "", ""),
    ("Door set", "hardware", "", ""),
)
#: Of what, length, quantity, price of one.
QUOTED = (
    ("Rail", "10'", "41", "14.60"),
    ("Film", "", "1", "298"),
    ("2x6", "16'", "7", "16.55"),
    ("Screw", "", "150", "0.07"),
)
ADDED = (("2x4", "10'", "4", "7.60"), ("Door set", "", "1", "41.50"))
#: Of what, length, pieces ordered and issued, price of one: two orders, so that rail comes at two prices.
ORDERS = (
    (
        ("Rail", "10'", 25, 20, "12.90"),
        ("Film", "", 1, 1, "311.25"),
        ("2x6", "12'", 10, 10, "12.65"),
        ("Screw", "", 500, 163, "0.0655"),
        ("Delivery", "", 1, 1, "97.40"),
        ("2x4", "10'", 8, 5, "7.95"),
        ("Door set", "", 1, 1, "41.50"),
    ),
    (("Rail", "10'", 30, 22, "15.10"),),
)
CAUSES = {
    "Change orders": "210.68",
    "Prices of materials": "8.17",
    "Quantities of materials": "29.26",
    "Hours of work": "179.40",
    "Pay an hour": "4.72",
    "Overhead": "66.12",
    "Equipment and trips": "18.00",
}


def material(name: str) -> int:
    return Material.objects.get(name=name).pk


def line(kind: str, quantity: str, price: str = "", **more: Any) -> dict[str, Any]:
    return {"kind": kind, "quantity": quantity, "price": price} | more


def of_materials(rows: Sequence[tuple[str, str, str, str]]) -> list[dict[str, Any]]:
    return [line("goods", many, each, material=material(name), length=length) for name, length, many, each in rows]


def named(option: str) -> list[dict[str, Any]]:
    """Lines of the example of a quote, by what they are called alone."""
    rows = [
        (kind, str(quantity), "" if price is None else str(price), what)
        for kind, what, quantity, price in lines_of(option)
    ]
    return [line(kind, quantity, price, what=what) for kind, quantity, price, what in rows]


def the_catalogue(typing: Typing) -> None:
    for name, kind, width, thickness in THINGS:
        typing.form("catalogue:material-new", name=name, kind=kind, width=width, thickness=thickness)
    typing.form("catalogue:supplier-new", name="Hilltop Pipe (invented)")
    # What nobody quoted stands at what it was offered at on the day of the quote.
    prices = {"prices-TOTAL_FORMS": 1, "prices-INITIAL_FORMS": 0, "prices-0-from_quantity": 1}
    asked = {"material": material("2x6"), "length": "12'", "prices-0-unit_price": "12.20"}
    typing.form("catalogue:offer-new", "hilltop-pipe-invented", **asked, **prices)


def the_quote(typing: Typing, lines: list[dict[str, Any]]) -> None:
    typing.form("quotes:customer-new", name="Fernhill Growers (invented)")
    typing.form("quotes:job-new", customer=Customer.objects.get().pk, name="One growing house")
    typing.form("quotes:rates", **RATES)
    typing.press("quotes:quote-new", 1)
    starter = typing.client.get(reverse("quotes:house-choose", args=[1, 1])).context["starters"][0][0].slug
    typing.press("quotes:house-choose", 1, 1, starter=starter)
    typing.form("quotes:house-new", 1, 1, starter)
    option = Option.objects.get()
    for row in option.unpriced:
        # The customer has it: of no cost.
        typing.form("quotes:line-new", 1, 1, kind="goods", what=row["what"], quantity="0", price="0")
    for line in option.lines.exclude(key=""):
        typing.form("quotes:line", 1, 1, line.pk, left_out="on")
    for line in lines:
        typing.form("quotes:line-new", 1, 1, **line)
    typing.form("quotes:send", 1)
    typing.form("quotes:accept-behalf", 1, 1, name="Ada Fern", how="by letter")


def the_change(typing: Typing, lines: list[dict[str, Any]]) -> None:
    typing.form("quotes:change-new", 1, what="A door at the back")
    for line in lines:
        typing.form("quotes:change", 1, 1, **line)
    typing.form("quotes:change-send", 1, 1)
    typing.form("quotes:change-answer", 1, 1, accept="yes", name="Ada Fern", how="by telephone")


def the_goods(typing: Typing, house: int, today) -> None:
    for lines in ORDERS:
        who = {"supplier": Supplier.objects.get().pk, "delivery_site": Site.objects.get().pk}
        typing.form("buying:order-new", **who, need_by=today.isoformat())
        number = PurchaseOrder.objects.latest("pk").number
        for name, length, pieces, _, price in lines:
            asked = {"material": material(name), "length": length, "quantity": pieces, "unit_price": price}
            typing.form("buying:line-add", number, **asked, offer="")
        typing.form("buying:send", number)
        arrived = {f"arrived-{at}": line[2] for at, line in enumerate(lines, start=1)}
        typing.form("buying:receive", number, place="Barn rack", **arrived)
        for (_, _, _, issued, _), lot in zip(lines, Lot.objects.order_by("-pk")[: len(lines)][::-1], strict=True):
            typing.form("stock:lot-issue", lot.pk, quantity=issued, house=house)


def the_work(typing: Typing, house: int, today) -> None:
    for name, an_hour in (("Ann", "29"), ("Ben", "34.75")):
        typing.form("crew:person-new", name=name)
        typing.form("costs:pay-rate", person=Person.objects.get(name=name).pk, an_hour=an_hour, since="2026-01-01")
    worked = (
        ("Ann", "7.25", "set", "", 4),
        ("Ann", "7.25", "set", "", 3),
        ("Ben", "7.25", "set", "", 4),
        ("Ben", "7.25", "set", "", 3),
        ("Ann", "8", "film", "", 2),
        ("Ben", "3.25", "", "Set two posts again", 2),
        ("Ann", "4", "ends", "", 1),
    )
    for name, hours, step, what, ago in worked:
        typing.form(
            "costs:time-new",
            person=Person.objects.get(name=name).pk,
            day=today.fromordinal(today.toordinal() - ago).isoformat(),
            house=house,
            step=step,
            what=what,
            hours=hours,
        )
    typing.form("costs:equipment-rate", name="Bender", a_day="18", since="2026-01-01")
    for ago in (2, 3, 4):
        day = today.fromordinal(today.toordinal() - ago).isoformat()
        typing.form("costs:equipment-new", equipment=Equipment.objects.get().pk, day=day, house=house)


def test_the_cost_of_a_job_against_its_quote(signed_in, organisation):
    typing = Typing(signed_in)
    the_catalogue(typing)
    more = [line("hours", "26", step="set"), line("hours", "9.25", step="film")]
    more += [line("charge", "1", "85", what="Delivery"), line("equipment", "2", "18", what="Bender")]
    the_quote(typing, [*of_materials(QUOTED), *more])
    the_change(typing, [*of_materials(ADDED), line("hours", "3.25", step="ends")])
    house = JobHouse.objects.get().house_id
    today = today_of(organisation=organisation)
    the_goods(typing, house, today)
    the_work(typing, house, today)

    page = typing.page("quotes:against", 1)
    for amount in ("$2,649.13", "$3,165.48", "$516.35", *CAUSES.values()):
        assert amount in page
    book = load_workbook(
        io.BytesIO(signed_in.get(reverse("quotes:against-workbook", args=[1])).content), data_only=True
    )
    told = {row[0]: row[1] for row in book["Causes"].iter_rows(values_only=True) if row[0]}
    assert {what: f"{told[what]:.2f}" for what in CAUSES} == CAUSES
    assert [round(told[what], 2) for what in ("Quoted", "Cost so far", "More or less than quoted")] == [
        *(2649.13, 3165.48, 516.35),
    ]
    lines = {row[0]: row for row in book["Lines"].iter_rows(min_row=2, values_only=True)}
    assert [round(figure, 2) for figure in lines["Rail, 10'"][6:8]] == [14.60, -23.00]
    assert [round(figure, 2) for figure in lines["Screw"][6:8]] == [0.91, -0.73]
    assert [round(figure, 2) for figure in lines["2x6, 12'"][6:8]] == [122.00, 4.50]
    assert [round(figure, 2) for figure in lines["In all"][3:6]] == [2649.13 + 210.68, 3165.48, 516.35 - 210.68]
    text = signed_in.get(reverse("quotes:against-csv", args=[1])).content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    causes = {row["What"]: D(row["Difference"]) for row in rows if row["Kind"] == "Cause"}
    assert causes == {what: D(amount) for what, amount in CAUSES.items()}
    assert sum(D(row["Difference"]) for row in rows if row["Kind"] == "Line") == D("516.35") - D("210.68")
    assert [D(rows[-1][name]) for name in ("Quoted at", "Cost", "Difference")] == [
        *(D("2649.13"), D("3165.48"), D("516.35")),
    ]


def test_what_is_earned_and_billed(signed_in, organisation, user):
    """By cost to cost, with what is kept back; what the job used is entered by services, as above by pages."""
    typing = Typing(signed_in)
    the_quote(typing, named("48'"))
    the_change(typing, named("door"))
    Built(organisation, user, Job.objects.get(), JobHouse.objects.get().house).all()
    typing.form("quotes:to-come", 1, amount="1934.52", reason="The ends take longer")
    typing.form("quotes:stages", 1, rows="On acceptance 30\nHoops stand 40\nFinished 30", kept_percent="5")
    assert [typing.form("quotes:bill-new", 1, query=f"?stage={at}").status_code for at in (1, 2)] == [302, 302]
    page = typing.page("quotes:against", 1)
    for said in ("$5,100.00", "62.07 %", "$3,823.56", "$4,312.18", "$488.62", "$1,060.25", "$6,160.25"):
        assert said in page
    page = typing.page("quotes:job-bills", 1)
    for said in ("$1,848.08", "$2,464.10", "$1,848.07", "$4,312.18", "$215.61", "$4,096.57"):
        assert said in page
    first, second = Bill.objects.order_by("number")
    assert (first.billed, second.billed, first.kept + second.kept) == (D("1848.08"), D("2464.10"), D("215.61"))
    assert first.due + second.due - first.tax - second.tax == D("4096.57")
    above = typing.send("quotes:bill-new", 1, query="?stage=3", amount="1848.08")
    assert above.status_code in (200, 302)
    assert sum(Bill.objects.values_list("billed", flat=True)) == D("6160.25")
