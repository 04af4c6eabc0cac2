"""The catalogue through its services, and the shipped materials against figures from outside."""

from __future__ import annotations

import json
import re
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from farmbuild.catalogue import services
from farmbuild.catalogue.models import Material, Offer, PriceBreak
from tests.factories import (
    FOOT,
    INCH,
    LotFactory,
    MaterialFactory,
    OfferFactory,
    OrganisationFactory,
    SupplierFactory,
)

pytestmark = pytest.mark.django_db
BREAKS = [(1, Decimal("14.60")), (50, Decimal("13.40"))]


def offer(organisation, **changes):
    supplier = changes.pop("supplier", None) or SupplierFactory(organisation=organisation)
    breaks = changes.pop("breaks", BREAKS)
    data = {
        "material": changes.pop("material", None) or MaterialFactory(organisation=organisation),
        "length": FOOT * 10,
    }
    data |= {"pack": 1, "lead_days": 6, "valid_until": None, "supplier_code": "BR-1"} | changes
    return services.save_offer(organisation=organisation, user=None, supplier=supplier, data=data, breaks=breaks)


#: Outside diameter and wall in inches: ANSI C80.3 (electrical metallic tubing). Lumber: dressed dry width and
#: thickness in inches, PS 20. Both typed from memory of the published tables.
PUBLISHED = {
    "emt-1-2": ("0.706", "0.042"),
    "emt-3-4": ("0.922", "0.049"),
    "emt-1": ("1.163", "0.057"),
    "emt-1-1-4": ("1.510", "0.065"),
    "emt-1-1-2": ("1.740", "0.065"),
    "emt-2": ("2.197", "0.065"),
    "lumber-1x6": ("5.5", "0.75"),
    "lumber-2x4": ("3.5", "1.5"),
    "lumber-2x6": ("5.5", "1.5"),
    "lumber-2x8": ("7.25", "1.5"),
    "lumber-2x10": ("9.25", "1.5"),
    "lumber-4x4": ("3.5", "3.5"),
}
#: EMT weights in lb per 100 ft that ANSI C80.3 / UL 797 list (from memory); steel of 0.2836 lb/in3.
LISTED_WEIGHTS = {"emt-1-2": 30, "emt-3-4": 46, "emt-1": 67, "emt-1-1-4": 101}


def test_shipped_sizes_are_the_published_ones(organisation):
    services.add_starting_catalogue(organisation=organisation)
    rows = {row.code: row for row in Material.objects.of(organisation)}
    for code, (width, thickness) in PUBLISHED.items():
        assert (rows[code].width, rows[code].thickness) == (INCH * Decimal(width), INCH * Decimal(thickness)), code
        assert rows[code].note
    assert rows["rail-1-3-8"].width == INCH * Decimal("1.375")
    assert rows["rail-1-3-8"].swaged
    assert rows["film-6mil-24ft"].width == FOOT * 24
    assert not rows["screw-12x3-4"].by_length


@pytest.mark.parametrize(("code", "pounds"), LISTED_WEIGHTS.items())
def test_shipped_conduit_weighs_what_is_listed(organisation, code, pounds):
    services.add_starting_catalogue(organisation=organisation)
    row = Material.objects.get(code=code)
    outside, wall = float(row.width / INCH), float(row.thickness / INCH)
    area = 3.141592653589793 / 4 * (outside**2 - (outside - 2 * wall) ** 2)
    # Listed weights are rounded and nominal.
    assert area * 1200 * 0.2836 == pytest.approx(pounds, rel=0.04)


SHIPPED = json.loads(services.STARTING_CATALOGUE.read_text(encoding="utf-8"))["materials"]


def test_every_shipped_material_says_where_it_comes_from():
    """A published standard, or that there is none."""
    for row in SHIPPED:
        said = row["note"]
        standard = re.search(r"\b(ASME|ANSI|ASTM|PS|UL|EN|ISO|DIN|NEMA|BS) [A-Z]*\d", said)
        assert standard or "ommon practice, no source" in said, row["code"]


def test_an_organisation_that_began_earlier_gets_what_is_shipped_since(organisation):
    services.add_starting_catalogue(organisation=organisation)
    of = Material.objects.of(organisation)
    of.get(code="rail-1-3-8-095").delete()
    of.filter(code__in=["strap", "anchor-30", "film-6mil-20ft"]).update(note="")
    of.filter(code="anchor-30").update(width=INCH)
    assert [row.code for row in services.add_starting_catalogue(organisation=organisation)] == ["rail-1-3-8-095"]
    rail = of.get(code="rail-1-3-8-095")
    assert (rail.width, rail.thickness, rail.swaged) == (INCH * Decimal("1.375"), INCH * Decimal("0.095"), True)
    assert services.fill_shipped_notes(organisation=organisation) == 2
    assert services.fill_shipped_notes(organisation=organisation) == 0
    assert "no source" in of.get(code="strap").note
    assert of.get(code="anchor-30").note == "", "its size was changed by hand, so the note is not about it"


def test_shipped_materials_are_added_only_where_missing(organisation):
    own = MaterialFactory(organisation=organisation, code="emt-1-2", name="My own conduit", width=Decimal(18))
    MaterialFactory(organisation=OrganisationFactory(), code="emt-2")
    added = services.add_starting_catalogue(organisation=organisation)
    assert len(added) == len(SHIPPED) - 1
    assert "emt-1-2" not in {row.code for row in added}
    assert services.add_starting_catalogue(organisation=organisation) == []
    own.refresh_from_db()
    assert (own.name, own.width) == ("My own conduit", Decimal(18))
    assert Material.objects.of(organisation).count() == len(SHIPPED)


def test_shipped_materials_cover_the_starter_specs_and_the_demo(organisation):
    from django.conf import settings

    services.add_starting_catalogue(organisation=organisation)
    there = set(Material.objects.values_list("code", flat=True))
    demo = json.loads((settings.BASE_DIR / "fixtures" / "demo.json").read_text())
    wanted = {row["material"] for row in demo["stock"]}
    wanted |= {row["material"] for supplier in demo["suppliers"] for row in supplier["offers"]}
    specs = json.loads((settings.BASE_DIR / "fixtures" / "starter_specs.json").read_text())
    for starter in specs["starters"]:
        wanted |= {code for name, code in starter["spec"].items() if name.endswith("_material")}
    wanted |= {recipe["tube"] for recipe in specs["recipes"]}
    assert wanted <= there


def test_a_code_is_taken_once_an_organisation(organisation):
    services.create_material(organisation=organisation, user=None, code="strap", name="Strap", kind="hardware")
    with pytest.raises(ValidationError) as refused:
        services.create_material(organisation=organisation, user=None, code="strap", name="Other", kind="hardware")
    assert "“strap” is taken already" in refused.value.message_dict["code"][0]
    services.create_material(organisation=OrganisationFactory(), user=None, code="strap", name="Strap", kind="hardware")


def test_ensure_leaves_what_is_there(organisation):
    own = MaterialFactory(organisation=organisation, code="emt-1", name="Mine")
    values = {"name": "1 in EMT conduit", "kind": "tube", "width": INCH}
    assert services.ensure_material(organisation=organisation, user=None, code="emt-1", **values) == own
    own.refresh_from_db()
    assert own.name == "Mine"
    assert services.ensure_material(organisation=organisation, user=None, code="emt-2", **values).width == INCH


def test_what_lies_in_stock_by_length_stays_so(organisation, user):
    rail = MaterialFactory(organisation=organisation)
    LotFactory(material=rail)
    with pytest.raises(ValidationError, match="stored by length, so it stays that way"):
        services.change_material(organisation=organisation, user=user, material=rail, data={"kind": "fastener"})
    services.change_material(organisation=organisation, user=user, material=rail, data={"kind": "lumber"})
    rail.refresh_from_db()
    assert rail.kind == "lumber"


def test_offer_with_breaks_is_stored_and_replaced(organisation, user):
    made = offer(organisation)
    assert [(row.from_quantity, row.unit_price) for row in made.breaks.all()] == BREAKS
    services.save_offer(
        organisation=organisation,
        user=user,
        supplier=made.supplier,
        data={"pack": 10},
        breaks=[(1, Decimal("0.0625"))],
        offer=made,
    )
    made.refresh_from_db()
    assert (made.pack, made.length, made.breaks.get().unit_price) == (10, FOOT * 10, Decimal("0.0625"))


@pytest.mark.parametrize(
    ("breaks", "words"),
    [
        ([], "at least one price"),
        ([(50, Decimal(13))], "starts from 50 pieces. Add the price from 1 piece"),
        ([(1, Decimal(14)), (1, Decimal(13))], "Two prices start from 1."),
        ([(0, Decimal(14))], "cannot start from 0"),
        ([(1, Decimal(13)), (50, Decimal(14))], "is above the one from 1"),
        ([(1, Decimal(-1))], "greater than or equal to 0"),
        ([(1, Decimal("1.23456"))], "decimal places"),
    ],
)
def test_prices_that_cannot_be_are_refused_whole(organisation, breaks, words):
    with pytest.raises(ValidationError) as refused:
        offer(organisation, breaks=breaks)
    assert words in " ".join(refused.value.messages)
    assert not Offer.objects.exists()
    assert not PriceBreak.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"length": None}, "length"),
        ({"pack": 0}, "pack"),
        ({"pack": 10**12}, "pack"),
        ({"lead_days": 731}, "lead_days"),
    ],
)
def test_an_offer_that_cannot_be_is_refused_at_the_field(organisation, changes, field):
    with pytest.raises(ValidationError) as refused:
        offer(organisation, **changes)
    assert list(refused.value.message_dict) == [field]


def test_rows_of_another_organisation_stay_out_of_an_offer(organisation):
    other = OrganisationFactory()
    for changes in (
        {"material": MaterialFactory(organisation=other)},
        {"supplier": SupplierFactory(organisation=other)},
    ):
        with pytest.raises(ValidationError, match="Choose one from the list"):
            offer(organisation, **changes)
    theirs = OfferFactory(supplier__organisation=other)
    with pytest.raises(Offer.DoesNotExist):
        services.remove_offer(organisation=organisation, user=None, offer=theirs)


def test_the_database_holds_what_must_never_be_false(organisation):
    made = offer(organisation)
    for wrong in (
        lambda: Offer.objects.filter(pk=made.pk).update(pack=0),
        lambda: Offer.objects.filter(pk=made.pk).update(length=0),
        lambda: made.breaks.update(unit_price=-1),
        lambda: made.breaks.update(from_quantity=0),
        lambda: Material.objects.create(organisation=organisation, code=made.material.code, name="x", kind="tube"),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            wrong()


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_every_shipped_material_keeps_every_constraint(organisation, units):
    for material in services.add_starting_catalogue(organisation=organisation, units=units):
        material.full_clean()
