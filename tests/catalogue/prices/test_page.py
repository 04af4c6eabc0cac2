"""Prices over time: the answer, the drawing, and the table after it, against sums by hand."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape
from itertools import pairwise

import pytest

from farmbuild.catalogue.history import record_of
from farmbuild.catalogue.models import OfferRecord
from farmbuild.catalogue.prices.selectors import lines_of, lowest
from tests.factories import FOOT, MaterialFactory, MembershipFactory, OfferFactory, SupplierFactory

pytestmark = pytest.mark.django_db
TODAY = date.today()  # noqa: DTZ011


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")


def said(rail, supplier, *prices, end=None, removed=None, length=FOOT * 10):
    """An offer that cost so much from each day before today on."""
    row = OfferFactory(supplier=supplier, material=rail, length=length, valid_until=end)
    records = [
        record_of(
            row, [(1, Decimal(price))], organisation=rail.organisation, user=None, since=TODAY - timedelta(days=ago)
        )
        for ago, price in prices
    ]
    if removed is not None:
        records.append(
            record_of(row, [(1, Decimal(1))], organisation=rail.organisation, user=None, since=removed, kind="removed")
        )
    OfferRecord.objects.bulk_create(records)
    return row


def page(client, query=""):
    return " ".join(unescape(client.get(f"/materials/rail/prices/{query}").content.decode()).split())


def test_the_lowest_today_and_what_it_changed_by(signed_in, rail, organisation):
    pipe, tubes = (
        SupplierFactory(organisation=organisation, name=name) for name in ("Invented Pipe", "Imaginary Tubes")
    )
    said(rail, pipe, (400, "14.60"), (30, "15.33"))
    said(rail, tubes, (300, "16.00"))
    text = page(signed_in)
    answer = re.search(r"Lowest now: [^<]*", text)[0]
    # 15.33 / 14.60 = 1.05, by hand.
    assert answer.startswith("Lowest now: Invented Pipe, $15.33 for 10', +5 % since ") and len(answer.split()) <= 18
    assert "B: Invented Pipe" in text and "A: Imaginary Tubes" in text
    assert text.count("<polyline") == 2 and "today" in text
    # Down from the first step, across, up to the second: steps, not slopes.
    for line in re.findall(r'<polyline class="ink" points="([^"]*)"', text):
        points = [tuple(map(float, point.split(","))) for point in line.split()]
        assert all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(points))


def test_what_ended_or_was_removed_is_not_the_lowest(rail, organisation):
    supplier = SupplierFactory(organisation=organisation)
    said(rail, supplier, (90, "9.00"), end=TODAY - timedelta(days=10))
    said(rail, supplier, (80, "8.00"), removed=TODAY - timedelta(days=5))
    best = said(rail, supplier, (70, "14.00"))
    lines = lines_of(organisation=organisation, material=rail, length=FOOT * 10)
    assert lowest(lines, today=TODAY).record.offer_key == best.pk
    assert sorted(line.end for line in lines if line.end) == [TODAY - timedelta(days=10), TODAY - timedelta(days=6)]


def test_each_length_has_its_own_and_other_money_is_not_among_them(signed_in, rail, organisation):
    supplier = SupplierFactory(organisation=organisation)
    said(rail, supplier, (90, "31.50"), length=FOOT * 21)
    said(rail, supplier, (80, "14.60"))
    organisation.currency = "EUR"
    rail.organisation.currency = "EUR"
    said(rail, supplier, (70, "11.11"))
    organisation.currency = "USD"
    assert "$14.60 for 10'" in page(signed_in) and "11.11" not in page(signed_in)
    assert "$31.50 for 21'" in page(signed_in, f"?length={lines_of_length(organisation, rail)}")
    assert "$14.60 for 10'" in page(signed_in, "?length=nonsense")


def lines_of_length(organisation, rail):
    return next(row.length for row in OfferRecord.objects.filter(material=rail) if row.length > FOOT * 20)


def test_nothing_kept_yet(signed_in, rail):
    text = page(signed_in)
    assert "No price of 1-3/8 rail is kept yet." in text and "<polyline" not in text


def test_asks_as_often_whatever_was_said(signed_in, rail, organisation, django_assert_max_num_queries):
    suppliers = [SupplierFactory(organisation=organisation) for _ in range(20)]
    for supplier in suppliers:
        said(rail, supplier, *((900 - 10 * n, f"{10 + n}.00") for n in range(10)))
    page(signed_in)
    with django_assert_max_num_queries(9):
        text = page(signed_in)
    assert "12 more are in the table alone" in text and text.count("<polyline") == 8 and "1 to 25 of 200" in text


def test_of_another_organisation_is_not_there(client, rail):
    client.force_login(MembershipFactory().user)
    assert client.get("/materials/rail/prices/").status_code == 404
