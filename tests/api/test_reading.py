"""What programs read: the rows of the pages, of one organisation, exact, by parts, in few queries."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from farmbuild.api.marks import MOST
from farmbuild.api.specs import NAMES
from farmbuild.api.values import amount, plain
from farmbuild.sites.bridge import SPEC_FIELDS
from farmbuild.sites.models import Site
from tests.api.conftest import Program, make
from tests.factories import HouseFactory, LotFactory, MaterialFactory, OrganisationFactory, SupplierFactory

pytestmark = pytest.mark.django_db


def test_lengths_and_money_to_the_last_place():
    lengths = {"3048.000000": "3048", "34.925000": "34.925", "0.000000": "0", "0.000001": "0.000001", "-1.50": "-1.5"}
    assert {text: plain(Decimal(text)) for text in lengths} == lengths
    amounts = {"18.4000": "18.40", "0.0125": "0.0125", "7": "7.00", "-3.5": "-3.50"}
    assert {text: amount(Decimal(text)) for text in amounts} == amounts
    assert amount(None) is None


def test_a_house_has_every_field_with_its_unit(program, organisation):
    house = HouseFactory(organisation=organisation, length=Decimal("14630.4"), site__organisation=organisation)
    said = program.get(f"/houses/{house.slug}").json()
    assert said["length_mm"] == "14630.4" and said["spec"]["length_mm"] == "14630.4"
    assert {*said["spec"]} == {NAMES[name] for name in SPEC_FIELDS}
    assert said["spec"]["recipe"] == house.recipe.slug
    assert said["need_date"] == house.need_date.isoformat() and said["site"] == house.site.slug
    [line] = program.get("/houses", site=house.site.slug).json()["items"]
    assert line == {name: said[name] for name in line}
    assert program.get("/houses", site="elsewhere").json() == {"items": [], "next": None}


def test_lists_come_by_a_mark_each_row_once(program, organisation):
    for number in range(7):
        Site.objects.create(organisation=organisation, name=f"Site {9 - number}", slug=f"s{number}")
    seen, after = [], {}
    while True:
        said = program.get("/sites", limit=3, **after).json()
        seen += [row["slug"] for row in said["items"]]
        if len(seen) == 3:
            # Who comes or goes meanwhile moves nobody else.
            Site.objects.filter(slug="s0").update(archived_at="2026-01-01T00:00Z")
        if said["next"] is None:
            break
        after = {"after": said["next"]}
    assert seen == [f"s{number}" for number in range(7)]
    # A part that ends with the last row has none behind it.
    assert program.get("/sites", limit=6).json()["next"] is None
    assert program.get("/sites", limit=5).json()["next"] is not None
    for asked in ({"limit": 0}, {"limit": MOST + 1}, {"after": "x"}, {"after": "-1"}, {"after": "9" * 16}):
        answer = program.get("/sites", **asked)
        assert answer.status_code == 422, asked
        assert answer.json()["errors"][0]["field"] == next(iter(asked))


def test_prices_only_to_whom_they_are_shown(organisation, user):
    lot = LotFactory(material__organisation=organisation, unit_cost=Decimal("3.25"), on_hand=4)
    shown, hidden = Program(make(organisation, user)), Program(make(organisation, user, "read"))
    for path in (f"/lots/{lot.reference}", "/lots"):
        with_costs, without = shown.get(path).json(), hidden.get(path).json()
        with_costs, without = (said.get("items", [said])[0] for said in (with_costs, without))
        assert with_costs["unit_cost"] == "3.25" and with_costs["currency"] == organisation.currency
        assert without["unit_cost"] is None and without["value"] is None
    SupplierFactory(organisation=organisation)
    assert len(shown.get("/suppliers").json()["items"]) == 1
    assert hidden.get("/suppliers").status_code == 403 == hidden.get("/offers").status_code


def test_rows_of_others_are_not_there(program):
    other = OrganisationFactory()
    house = HouseFactory(organisation=other, site__organisation=other)
    lot = LotFactory(material__organisation=other, on_hand=3)
    MaterialFactory(organisation=other)
    for path in (f"/houses/{house.slug}", f"/lots/{lot.reference}", f"/sites/{house.site.slug}"):
        assert program.get(path).status_code == 404, path
    for path in ("/houses", "/lots", "/sites", "/materials", "/movements", "/recipes"):
        assert program.get(path).json()["items"] == [], path


def test_an_offline_copy_of_the_stock_adds_up(program, organisation):
    lot = LotFactory(material__organisation=organisation, on_hand=12, received_on=date(2026, 3, 1))
    said = program.get(f"/lots/{lot.reference}").json()
    moved = program.get("/movements", lot=lot.reference).json()["items"]
    assert sum(row["quantity"] for row in moved) == said["on_hand"] == 12
    assert said["received_on"] == "2026-03-01" and said["free"] == 12
