"""The one table template: links, figures, units, sums, labels for phones, pages."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

import django_tables2 as tables
import pytest
from django.test import RequestFactory
from django.utils.html import conditional_escape
from django.utils.safestring import mark_safe
from django_tables2 import RequestConfig

from farmbuild.common.tables import DayColumn, FarmTable, LengthColumn, MoneyColumn, QuantityColumn
from tests.factories import LotFactory, MaterialFactory, OrganisationFactory


class LotsTable(FarmTable):
    name = tables.Column("Material")
    length = LengthColumn("Length")
    on_hand = QuantityColumn("On hand", unit="sticks", total=True)
    value = MoneyColumn("Value", total=True)
    needed = DayColumn("Needed by")

    class Meta(FarmTable.Meta):
        empty_text = "No lots yet."

    def row_link(self, record: Any) -> str:
        return record["url"]


class Cells(HTMLParser):
    """Every th, td and a with its attributes and text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[list] = []
        self.open: list[list] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        if tag in ("th", "td", "a", "tr", "tfoot", "thead"):
            node = [tag, dict(attrs), ""]
            self.found.append(node)
            self.open.append(node)

    def handle_endtag(self, tag):
        if self.open and self.open[-1][0] == tag:
            self.open.pop()

    def handle_data(self, data):
        for node in self.open:
            node[2] += data

    def of(self, tag, **attrs):
        return [
            (got, " ".join(text.split()))
            for name, got, text in self.found
            if name == tag and all(got.get(key) == value for key, value in attrs.items())
        ]


def row(number: int, **changes):
    return {
        "name": f"rail <{number}>",
        "url": f"/stock/{number}/",
        "length": Decimal("3048"),
        "on_hand": 3,
        "value": Decimal("10.005"),
        "needed": date(2027, 5, 3),
    } | changes


def rendered(rows, query="", **organisation):
    table = LotsTable(rows, organisation=OrganisationFactory.build(**organisation))
    request = RequestFactory().get(f"/stock/{query}")
    RequestConfig(request).configure(table)
    return table.as_html(request)


def test_row_is_led_by_one_real_link():
    cells = Cells(rendered([row(1)]))
    assert cells.of("a", **{"class": "row-link"}) == [({"class": "row-link", "href": "/stock/1/"}, "rail <1>")]
    assert "linked" in cells.of("tr")[1][0]["class"].split()
    assert cells.of("th", scope="row")[0][1] == "rail <1>"


def test_row_without_an_address_is_no_link():
    html = rendered([row(1, url=None)])
    assert "row-link" not in html
    assert "linked" not in html


def test_figures_stand_to_the_right_with_units_in_the_heading():
    cells = Cells(rendered([row(1)]))
    headings = {text: got for got, text in cells.of("th", scope="col")}
    assert list(headings) == ["Material", "Length ft in", "On hand sticks", "Value USD", "Needed by"]
    assert ["figure" in got["class"].split() for got in headings.values()] == [False, True, True, True, False]
    (_, length), (_, on_hand), (_, value), (_, needed) = cells.of("td", role="cell")[:4]
    assert (length, on_hand, value, needed) == ("10' 3 048 mm", "3", "10.01", "3 May 2027")


def test_units_follow_the_organisation():
    cells = Cells(rendered([row(1)], unit_system="metric", currency="EUR"))
    assert [text for _, text in cells.of("th", scope="col")][1:4] == ["Length mm", "On hand sticks", "Value EUR"]
    assert cells.of("td", role="cell")[0][1] == "3 048 mm 10'"


def test_foot_sums_every_row_and_rounds_money_before():
    """40 rows of 10.005 stand as 10.01 each, so they come to 400.40, not 400.20."""
    cells = Cells(rendered([row(number) for number in range(40)]))
    assert len(cells.of("th", scope="row")) == 25
    foot = [text for _, text in cells.of("td", role="cell")[-5:]]
    assert foot == ["Sum", "", "120", "400.40", ""]


def test_pages_are_links_and_the_current_one_says_so():
    cells = Cells(rendered([row(number) for number in range(60)], "?page=2&site=north"))
    assert cells.of("a", **{"aria-current": "page"})[0][1] == "2"
    targets = [got["href"] for got, text in cells.of("a") if text in ("Previous", "Next")]
    assert len(targets) == 2
    assert all("site=north" in target for target in targets)
    assert "Rows 26 to 50 of 60" in rendered([row(number) for number in range(60)], "?page=2")


def test_order_is_said_in_the_heading():
    html = rendered([row(1), row(2)], "?sort=-name")
    assert Cells(html).of("th", scope="col")[0][0]["aria-sort"] == "descending"


def test_empty_table_says_what_it_says():
    assert "No lots yet." in rendered([])


def test_link_may_be_a_method():
    class Table(FarmTable):
        name = tables.Column()

        def row_link(self, record):
            return f"/{self.organisation.slug}/{record['name']}/"

    table = Table([{"name": "a"}], organisation=OrganisationFactory.build(slug="field"))
    assert 'href="/field/a/"' in table.as_html(RequestFactory().get("/"))


class Notes:
    """A record with what a column may meet: text with marks, nothing, a method, a record of its own."""

    def __init__(self, length: Decimal | None) -> None:
        self.length, self.text, self.inner = length, "<b>", self if length else None

    def shout(self) -> str:
        return self.text.upper()


class NotesTable(tables.Table):
    text = tables.Column()
    length = tables.Column()
    shout = tables.Column()
    below = tables.Column(accessor="inner__text")
    nothing = tables.Column(default="none")
    kind = tables.Column(default="no kind")


@pytest.mark.parametrize(
    "record",
    [
        Notes(Decimal("3048")),
        Notes(None),
        {"text": "<i>", "length": None, "shout": str.lower, "inner": {"text": "&"}, "nothing": ""},
        {"inner__text": mark_safe("<u>"), "kind": 0},
        MaterialFactory.build(kind="pipe"),
    ],
)
def test_cells_hold_what_the_library_puts_there(record):
    class Ours(FarmTable, NotesTable):
        class Meta(FarmTable.Meta):
            pass

    plain = [conditional_escape(cell) for cell in NotesTable([record]).rows[0]]
    [(_, css, cells)] = Ours([record]).body
    found = Cells(f"<table><tr>{cells}</tr></table>")
    inside = re.findall(r"<th [^>]*>(.*?)</th>|<td [^>]*><div>(.*?)</div></td>", cells)
    assert ["".join(one) for one in inside] == plain
    assert [attributes["data-at"] for attributes, _ in found.of("td")] == ["1", "2", "3", "4", "5"]
    assert css == NotesTable([record]).rows[0].attrs["class"]


def test_more_columns_need_more_room():
    def width(count):
        extra = [(f"c{number}", tables.Column()) for number in range(count)]
        return FarmTable([], extra_columns=extra, organisation=OrganisationFactory.build()).width_class

    assert [width(count) for count in (3, 4, 5, 6, 7)] == ["few", "few", "some", "some", "many"]


@pytest.mark.django_db
def test_queries_do_not_grow_with_rows(django_assert_num_queries):
    class Table(FarmTable):
        reference = tables.Column("Lot")
        length = LengthColumn("Length")
        on_hand = QuantityColumn("On hand", total=True)

    from farmbuild.stock.selectors import lots_of

    organisation = OrganisationFactory()
    for count in (2, 10):
        LotFactory.create_batch(count, material__organisation=organisation)
        table = Table(lots_of(organisation=organisation), organisation=organisation)
        request = RequestFactory().get("/")
        RequestConfig(request).configure(table)
        # How many there are, and the rows.
        with django_assert_num_queries(2):
            table.as_html(request)
