"""From nothing to the first order, by visible links and buttons alone: three own houses, few fields."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.browser.newcomer import PLAN, Newcomer, started
from tests.size import sized

pytestmark = pytest.mark.browser

#: At most so many fields are typed on the way, so many forms sent and so many pages opened.
BY_LIST, BY_ROWS = (20, 16, 30), (40, 35, 75)
RAIL, POST = "1-3/8 in fence top rail", "1-5/8 in fence pipe"
PRICE = re.compile(r"Price of one piece.*row\s+1$", re.DOTALL)
#: The invented prices of an invented supplier, as it lists them.
PRICES = {
    RAIL: ("10'", "13.50"),
    POST: ("21'", "34"),
    "2x4 lumber": ("16'", "9.80"),
    "2x6 lumber": ("16'", "15.60"),
    "6 mil film, 24 ft wide": ("100'", "210"),
    "Fixing channel with wire": ("10'", "11.20"),
    "#12 x 3/4 in self-drilling screw": ("", "0.08"),
    "#14 x 1 in self-drilling screw": ("", "0.12"),
    "#8 x 2-1/2 in wood screw": ("", "0.06"),
    "3/8 x 4 in carriage bolt, nut and washer": ("", "0.90"),
    "30 in screw-in anchor": ("", "12"),
    "Anchor tie, cable with clamps": ("", "7"),
    "Brace clamp for 1-3/8 in rail": ("", "2.40"),
    "Cross connector for 1-3/8 in rail": ("", "1.90"),
    "Door latch": ("", "9"),
    "Door stop": ("", "3"),
    "Joint tape, one roll": ("", "6"),
    "Tee hinge, 6 in": ("", "5"),
}
#: Of three of the 12 ft starter: 48 ft long, hoops at most 4 ft apart.
HOUSES = 3
HOOPS = 48 // 4 + 1
#: Rails of 10 ft: two to a hoop; a ridge of 48 ft takes five that slide 4 in into each other (600 less 16 in; four
#: give 468 in); of the rest each brace of 6 ft takes one, of which 4 ft are left.
RAILS = HOUSES * (HOOPS * 2 + 5 + 4)
IN_THE_YARD = 31
#: Posts of 4 ft, two to a hoop; five come out of a stick of 21 ft.
POSTS = -(-HOUSES * HOOPS * 2 // 5)


@pytest.fixture
def newcomer(chromium, tmp_path):
    with started(tmp_path / "data") as address:
        context = chromium.new_context(viewport={"width": 390, "height": 844}, reduced_motion="reduce")
        yield Newcomer(context.new_page(), address)
        context.close()


@pytest.mark.parametrize(("way", "most"), [("by_list", BY_LIST), ("by_rows", BY_ROWS)][: sized(1, 2)])
def test_the_whole_way_to_the_first_order(newcomer, way, most):
    """Prices are pasted as one list, or typed row by row where the plan says that nobody offers a thing.

    The second way is of the long run.
    """
    me = newcomer
    set_up(me)
    three_houses(me)
    yard(me)
    me.follow("Add a supplier")
    me.type("Name", "Invented Pipe and Lumber")
    me.press("Save the supplier")
    {"by_list": by_list, "by_rows": by_rows}[way](me)
    check(plan_and_send(me))
    me.follow("Houses", within="nav.places")
    assert "First season" not in me.text
    for counted, bound in zip((me.typed, me.forms, me.pages), most, strict=True):
        assert len(counted) <= bound, counted


def check(order: dict[str, int]) -> None:
    assert order[RAIL] == RAILS - IN_THE_YARD
    assert order[POST] == POSTS
    assert order["30 in screw-in anchor"] == HOUSES * 4
    assert order["Door latch"] == HOUSES * 2, "a door at either end"
    assert order["Tee hinge, 6 in"] == HOUSES * 2 * 3
    assert order["Cross connector for 1-3/8 in rail"] == HOUSES * HOOPS, "one where the ridge meets each hoop"
    assert set(order) == set(PRICES), "all of it can be bought"


def set_up(me: Newcomer) -> None:
    me.type("Your name", "Anna Invented")
    me.type("Name to sign in with", "anna")
    me.type("Password", "hoops and rails")
    me.type("Farm, cooperative or firm", "Invented Farm")
    me.choose("Country", "United States")
    me.press("Set up and sign in")
    me.type("Name", "North Field")
    me.press("Save the site")


def three_houses(me: Newcomer) -> None:
    me.follow("First season")
    me.follow("Add a house")
    me.press("Start from the 12 ft house")
    if not me.shows("Name"):
        me.type("Name", "House 1")
    me.type("Materials needed by", f"{datetime.now(tz=UTC).date() + timedelta(days=120)}")
    me.press("Save the house")
    me.follow("Copy")
    me.type("How many copies", str(HOUSES - 1))
    me.press("Make the copies")


def yard(me: Newcomer) -> None:
    me.follow("Enter the yard")
    me.type("Place", "Rack")
    me.type("What lies there", f"{IN_THE_YARD} sticks of 1-3/8 rail 10'")
    me.press("Show how it is understood")
    me.type(re.compile(r"^\s*Value of one"), "13")
    me.press("Add all of it to stock")
    me.follow("Houses", within="nav.places")


def by_list(me: Newcomer) -> None:
    """The whole list of a supplier, pasted as one."""
    rows = [("Description", "Length", "Price", "Lead time"), *((name, *row, "7") for name, row in PRICES.items())]
    me.follow("Read a price list")
    me.type("Or paste the rows", "\n".join("\t".join(row) for row in rows))
    me.press("Read the list")
    me.press("Take over the list")
    me.follow("Plan a season")
    me.press("Work out the plan")


def by_rows(me: Newcomer) -> None:
    """A plan says what nobody offers; each row opens the form of its offer, and leads back."""
    me.follow("First season")
    me.follow("Plan a season")
    me.press("Work out the plan")
    worked_out(me)
    me.follow("See what cannot be bought")
    for name, (length, price) in PRICES.items():
        me.follow(name)
        if length and me.shows("Length of one piece") != length:
            me.type("Length of one piece", length)
        me.type(PRICE, price)
        me.press("Save the offer")
    me.press("Plan again")


def worked_out(me: Newcomer) -> None:
    """The page of the plan shows it when it is done."""
    me.page.get_by_role("heading", name="What it holds").wait_for(timeout=PLAN)
    me.page.wait_for_load_state()


def plan_and_send(me: Newcomer) -> dict[str, int]:
    """Pieces by material on the spreadsheet that goes to the supplier."""
    worked_out(me)
    me.press("Accept this plan")
    me.follow(
        next(link for link in me.page.locator("main a.action").all_inner_texts() if link.startswith("Send order"))
    )
    me.press("Mark as sent")
    return ordered(me.download("Download the order as sent"))


def ordered(file: Path) -> dict[str, int]:
    """Pieces by item, as the supplier reads them."""
    book = load_workbook(BytesIO(file.read_bytes()), data_only=True)
    rows = [list(row) for row in book.worksheets[0].iter_rows(values_only=True)]
    head = next(at for at, row in enumerate(rows) if "Item" in row)
    item, quantity = rows[head].index("Item"), rows[head].index("Quantity")
    lines = [row for row in rows[head + 1 :] if isinstance(row[0], int)]
    assert len({row[item] for row in lines}) == len(lines)
    return {row[item]: row[quantity] for row in lines}
