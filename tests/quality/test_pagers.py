"""Every pager leads to its last page: Next goes through all of it, each page shows other rows, and there it ends."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Reply
from farmbuild.catalogue.lists import services as lists
from farmbuild.catalogue.lists.understood import understand
from farmbuild.crew.models import BenderBooking
from farmbuild.orgs.clock import today_of
from farmbuild.plans import services as plans
from farmbuild.stock.models import Lot
from tests.crew.own import own
from tests.factories import FOOT, HouseFactory, LotFactory, MaterialFactory, MemberSignInFactory, SupplierFactory
from tests.plans.small_season import small_season
from tests.quality.test_query_counts import LISTS, address_of, copies, fill, more_bookings, more_orders
from tests.where import ROOT

pytestmark = pytest.mark.django_db
ROWS, MANY = 60, 130
_EXTENT = re.compile(r"([\d,]+) to ([\d,]+) of ([\d,]+)")
#: Lists without a pager: all on one page, drawn, a file, or cut off with a sentence that says so.
WHOLE = {
    "/people/log/",
    # All members of a joint order, as they are ordered for.
    "/joint-orders/1/",
    "/stock/counts/start/",
    "/stock/counts/1/sheets/",
    # Sheet by sheet, each saved before the next (tests/stock/test_count_pages.py).
    "/stock/counts/1/places/{place}/?page=9999",
    "/stock/labels/?place={place}",
    "/stock/availability/",
    "/stock/availability/{material}/",
    "/stock/season-end/?day=2030-01-01&below=2",
    "/crew/rates/",
    "/crew/worked/hours.xlsx",
    "/houses/{house}/tasks/",
    "/crew/week/2087-01-06/",
    "/crew/week/{tomorrow}/",
    "/crew/benders/who-gets-which/",
}
PAGED = [(re.sub(r"\?page=\d+$", "", address), more) for address, more in LISTS if address not in WHOLE]
PAGED += [("/hoops/benders/", more_bookings)]


class Page(HTMLParser):
    """Of a page: where its pagers lead and what they say, and what the screen shows beside them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.pagers: list[dict[str, str]] = []
        self.shown: list[str] = []
        self._open: list[tuple[str, list[str]]] = []
        self.feed(html)

    def _within(self, name: str) -> bool:
        return any(name in classes for _, classes in self._open)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        classes = (given.get("class") or "").split()
        if tag in ("nav", "section"):
            self._open.append((tag, classes))
        if tag == "nav" and "pages" in classes:
            self.pagers.append({"says": ""})
        if tag == "a" and self._within("pages"):
            self.pagers[-1][given.get("rel", "number")] = given["href"]
        elif tag == "a" and not self._within("print-only"):
            self.shown.append(given.get("href") or "")

    def handle_endtag(self, tag):
        if self._open and self._open[-1][0] == tag:
            self._open.pop()

    def handle_data(self, data):
        if self._within("pages"):
            self.pagers[-1]["says"] += data
        elif not self._within("print-only"):
            self.shown.append(data)


def walk(client, address: str) -> int:
    """Follow Next of every pager of the page to its end; gives how many pagers there were."""
    path = address.partition("?")[0]
    first = Page(client.get(address).content.decode())
    for number in range(len(first.pagers)):
        page, seen, end = first, [], 0
        while True:
            assert page.shown not in seen, f"{address} shows the same rows again"
            seen.append(page.shown)
            pager = page.pagers[number]
            start, upto, whole = (int(text.replace(",", "")) for text in _EXTENT.search(pager["says"]).groups())
            assert start == end + 1, f"{address} goes from row {end} to row {start}"
            assert ("prev" in pager) == (len(seen) > 1) == ("Previous" in pager["says"])
            assert ("next" in pager) == (upto < whole) == ("Next" in pager["says"])
            end = upto
            if "next" not in pager:
                break
            answer = client.get(path + pager["next"])
            assert answer.status_code == 200
            page = Page(answer.content.decode())
        assert end == whole
        assert len(seen) >= 2
    return len(first.pagers)


@pytest.mark.parametrize(("address", "more"), PAGED, ids=[address for address, _ in PAGED])
def test_a_list_is_read_to_its_end(signed_in, organisation, address, more):
    more(organisation, 0, ROWS)
    assert walk(signed_in, address_of(organisation, address)) >= 1


def test_the_parts_of_a_plan_are_read_to_their_end(signed_in, organisation, user):
    season = small_season(organisation)
    like = season.houses[0]
    houses = [
        HouseFactory(
            site=season.north,
            slug=f"wide-{n}",
            length=FOOT * 48,
            recipe=like.recipe,
            post_material=like.post_material,
            post_length=FOOT * 4 + n,
        )
        for n in range(30)
    ]
    plan = plans.create_plan(**season.ask(user, houses=houses)).plan
    plans.work_out_plan(plan.pk)
    assert walk(signed_in, "/plans/1/cutting/") >= 1
    assert walk(signed_in, "/plans/1/cutting/?material=post") >= 1
    assert walk(signed_in, "/plans/1/needs/") >= 1


@pytest.fixture
def order(organisation):
    """Of so many lines that they take two pages."""
    more_orders(organisation, 0, 1)
    order = PurchaseOrder.objects.of(organisation).get()
    line = order.lines.get()
    fill(PurchaseOrderLine, copies(line, MANY, position=lambda n: n + 2, description=lambda n: f"Rail {n}"))
    return order


def test_the_lines_of_an_order_are_read_to_their_end(signed_in, order):
    assert walk(signed_in, f"/orders/{order.number}/") == 1


def test_a_reply_is_read_to_its_end(signed_in, organisation, order):
    row = {
        "ordered": ["10.00", 1, "2027-03-01"],
        "price": "11.00",
        "quantity": None,
        "promised": None,
        "kind": "differs",
    }
    rows = [row | {"position": n, "row": n, "item": f"Rail {n}", "remark": "", "problems": {}} for n in range(1, MANY)]
    reply = Reply.objects.create(
        organisation=organisation, order=order, filename="reply.xlsx", rows=rows, bad_rows=0, differences=len(rows)
    )
    assert walk(signed_in, f"/orders/{order.number}/reply/{reply.pk}/") == 1
    assert walk(signed_in, f"/orders/{order.number}/reply/{reply.pk}/?rows=all") == 1


def test_a_file_of_lots_is_read_to_its_end(signed_in, organisation):
    lot = LotFactory(material__organisation=organisation)
    rows = "".join(f"{lot.material.code};{n};10';Rack {n}\n" for n in range(1, MANY))
    file = SimpleUploadedFile("lots.csv", f"Material;Quantity;Length;Place\n{rows}".encode())
    answer = signed_in.post(reverse("stock:import"), {"file": file})
    assert walk(signed_in, answer.url) == 1
    assert walk(signed_in, f"{answer.url}?rows=all") == 1


def test_the_piles_are_read_to_their_end(signed_in, organisation):
    for number in range(ROWS):
        LotFactory(material=MaterialFactory(organisation=organisation, name=f"Rail {number}", code=f"r-{number}"))
    assert walk(signed_in, reverse("stock:lots")) == 2
    assert walk(signed_in, reverse("stock:season-end")) == 2


def test_a_counted_sheet_is_read_to_its_end(signed_in, organisation):
    more_counts = dict(LISTS)["/stock/counts/1/"]
    more_counts(organisation, 0, MANY)
    lots = Lot.objects.of(organisation).filter(reference__startswith="M-").values_list("reference", flat=True)
    file = SimpleUploadedFile("sheet.csv", ("Lot;Counted\n" + "".join(f"{lot};3\n" for lot in lots)).encode())
    answer = signed_in.post(reverse("stock:count-import", args=[1]), {"file": file})
    assert walk(signed_in, answer.url) == 1


def test_the_days_that_a_member_sees_are_read_to_their_end(client, organisation):
    more_bookings(organisation, 0, ROWS)
    booking = BenderBooking.objects.of(organisation).first()
    client.force_login(MemberSignInFactory(member=booking.member).user)
    assert walk(client, f"{own('days')}?from=2087-01-05") == 1
    assert walk(client, own("days")) == 1


def test_a_price_list_is_read_to_its_end_before_and_after_it_is_taken(signed_in, organisation, user):
    MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")
    supplier = SupplierFactory(organisation=organisation)
    own = {"organisation": organisation, "user": user}
    lines = "".join(f"1-3/8 rail,{feet}',{feet}.60,6\n" for feet in range(1, 91))
    data = f"Description,Length,Price USD,Lead time\n{lines}".encode()
    made = lists.make_list(**own, supplier=supplier, data=data, filename="list.csv")
    address = reverse("catalogue:list", args=[supplier.code, made.pk])
    assert walk(signed_in, address) == 2
    today = today_of(organisation=organisation)
    seen = lists.fingerprint(understand(organisation=organisation, price_list=made, today=today))
    lists.take_list(**own, price_list=made, seen=seen, today=today, end=None, sure=True)
    assert walk(signed_in, address) == 1


def test_there_is_one_pager_and_every_page_that_has_it_is_walked_here():
    """A new page with the pager is to be added above."""
    templates = ROOT / "templates"
    found = {path for path in templates.rglob("*.html") if "pages.html" in path.read_text(encoding="utf-8")}
    by_hand = {
        "buying/reply.html",
        "catalogue/lists/changes.html",
        "catalogue/lists/list.html",
        "crew/bookings/own/days.html",
        "crew/bookings/shared.html",
        "crew/people/travel.html",
        "crew/wind/days.html",
        # In tests/history/test_pages.py and tests/sites/test_places.py.
        "history/act.html",
        "sites/places.html",
        "plans/cutting.html",
        # In tests/plans/test_leftover_bars.py.
        "plans/leftovers.html",
        "plans/seasonend/left.html",
        "sites/house_list.html",
        "stock/counts/import_preview.html",
        "stock/counts/place.html",
        "stock/import_preview.html",
        "stock/lots_shown.html",
        "tables/table.html",
    }
    assert {str(path.relative_to(templates)) for path in found} == by_hand
    turning = re.compile("next_page_number|querystring")
    turned = {path.name for path in templates.rglob("*.html") if turning.search(path.read_text(encoding="utf-8"))}
    assert turned == {"pages.html", "table.html"}
