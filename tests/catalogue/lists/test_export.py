"""The list taken out reads back as what it was, in both units and by both decimal signs."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from farmbuild.catalogue import services as catalogue
from farmbuild.catalogue.models import Material, Offer
from farmbuild.measure import NumberStyle, use_style
from farmbuild.orgs.models import Organisation
from tests.catalogue.lists.conftest import LIST
from tests.factories import INCH, MembershipFactory

pytestmark = pytest.mark.django_db
STYLES = {".": NumberStyle(".", ","), ",": NumberStyle(",", " ")}


@pytest.fixture
def priced(shop):
    """Breaks, packs, an odd length, a day, four decimals, and one of which nothing is known."""
    shop.read(LIST)
    catalogue.save_offer(
        organisation=shop.organisation,
        user=shop.user,
        supplier=shop.supplier,
        data={
            "material": Material.objects.get(code="board"),
            "length": INCH * Decimal("93.6875"),
            "pack": 7,
            "valid_until": date.today() + timedelta(days=900),  # noqa: DTZ011
        },
        breaks=[(1, Decimal("1234.5678")), (1400, Decimal("1000"))],
    )
    return shop


@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize("sign", [".", ","])
@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_reads_back_without_loss(signed_in, priced, kind, sign, units):
    Organisation.objects.update(decimal_sign=sign, unit_system=units)
    priced.organisation.refresh_from_db()
    before = list(Offer.objects.order_by("pk").values())
    for query in ("", "?every=1"):
        data = signed_in.get(f"/suppliers/pipe/lists/prices.{kind}{query}").content
        with use_style(STYLES[sign]):
            made = priced.send(data, f"prices.{kind}")
            found = priced.understood(made)
            assert [change.kind for change in found.changes] == ["same"] * 4, found.changes
            priced.take(made)
    assert list(Offer.objects.order_by("pk").values()) == before


def test_every_material_can_be_filled_in(signed_in, priced):
    Material.objects.create(organisation=priced.organisation, code="clip", name="Pipe clip", kind="hardware")
    text = signed_in.get("/suppliers/pipe/lists/prices.csv?every=1").content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    clip = next(row for row in rows if row["Our short name"] == "clip")
    clip |= {"Price of one, USD": "0.80", "Days to deliver": "4"}
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    priced.read(out.getvalue())
    assert Offer.objects.get(material__code="clip").lead_days == 4


def test_the_workbook_says_numbers_as_numbers(signed_in, priced):
    book = load_workbook(io.BytesIO(signed_in.get("/suppliers/pipe/lists/prices.xlsx").content))
    rows = {(row[0], row[5]): row for row in book["Prices"].iter_rows(min_row=2, values_only=True)}
    assert rows["IP-1", 50][6:8] == (13.4, 6) and rows["IP-3", 1][7] is None


def test_of_another_organisation_is_not_there(client, shop):
    client.force_login(MembershipFactory().user)
    for kind in ("xlsx", "csv"):
        assert client.get(f"/suppliers/pipe/lists/prices.{kind}").status_code == 404
