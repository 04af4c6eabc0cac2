from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from farmbuild.catalogue.services import create_supplier, save_offer
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.services import create_bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.services import save_recipe
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import material_keys
from farmbuild.sites.models import House
from farmbuild.sites.selectors import houses_with_materials
from farmbuild.sites.services import create_house, create_site, prepare_starter
from farmbuild.sites.starters import starter_named
from farmbuild.stock.services import place_named, receive_lot
from tests.factories import MembershipFactory, OrganisationFactory

METRIC = {
    "unit_system": "metric",
    "currency": "EUR",
    "decimal_sign": ",",
    "kerf": Decimal(3),
    "keep_from": Decimal(600),
    "tax_name": "VAT",
    "tax_percent": Decimal(20),
}
PLACED = {"along": Decimal("3657.6"), "across": Decimal(0), "ridge_turn": 271}


def farm(*, metric: bool = False):
    """An empty organisation and its owner."""
    member = MembershipFactory(organisation=OrganisationFactory(**(METRIC if metric else {})))
    return member.organisation, member.user


def filled(*, metric: bool = False):
    """The same with two houses, what they are made of, who sells it, and some of it in the yard: all invented."""
    organisation, user = farm(metric=metric)
    who = {"organisation": organisation, "user": user}
    field = create_site(
        **who,
        name="North Field",
        address="1 Invented Lane\nMade-up",
        note="Gate on the north",
        corner_stake="gate stake",
        plan_bearing=20,
        walkway=Decimal("1016.79375"),
    )
    yard = create_site(**who, name="The yard")
    starter = starter_named("8-m-house" if metric else "12-ft-house")
    values = prepare_starter(**who, starter=starter)
    for number in (1, 2):
        made = create_house(
            **who,
            site=field,
            name=f"North Field {number}",
            need_date=date(2027, 4, 5 + number),
            data=values | (PLACED if number == 2 else {}),
            own_rows=[
                {
                    "material": values["screw_material"],
                    "quantity": Decimal("2.5"),
                    "per": "hoop",
                    "length": Decimal(0),
                    "step": "film",
                    "note": "over the tape",
                }
            ]
            if number == 2 and values.get("screw_material")
            else (),
        )
    recipe = Recipe.objects.of(organisation).get(pk=made.recipe_id)
    bender = create_bender(
        **who,
        data={
            "name": "Our bender",
            "way": Bender.Way.RADIUS,
            "rated_radius": recipe.radius,
            "rated_span": made.post_span,
            "tubes": [recipe.tube],
            "owner": "A neighbour",
            "kept_at": "shed",
            "note": "oil it",
            "service_pulls": 5000,
            "service_months": 12,
            "earlier_pulls": 250,
            "drift_limit": Decimal("20.5"),
        },
    )
    save_recipe(**who, recipe=recipe, data={"bender": bender, "lever_length": Decimal("950.5")})
    house = houses_with_materials(organisation=organisation).get(pk=made.pk)
    seller = create_supplier(
        **who,
        code="quay",
        name="Invented Quay",
        contact="Counter",
        address="2 Made-up Quay",
        delivery_charge=Decimal("85.50"),
        free_delivery_from=Decimal(3000),
        minimum_order=Decimal(20),
    )
    place = place_named(**who, name="Rack 1", site=yard)
    for number, material in enumerate(sorted_materials(organisation, house), 1):
        lengths = _lengths(material, house, metric)
        for length in lengths:
            save_offer(
                **who,
                supplier=seller,
                data={
                    "material": material,
                    "length": length,
                    "pack": 1 + number % 3,
                    "lead_days": None if number == 2 else 5,
                    "valid_until": date(2028, 1, 1) if number % 2 else None,
                    "supplier_code": f"Q-{number}",
                    "listed_as": f"thing {number}",
                },
                breaks=[(1, Decimal("12.3456")), (50, Decimal("11.5"))],
            )
        receive_lot(
            **who,
            material=material,
            quantity=3 + number,
            place=place,
            received_on=date(2026, 11, number),
            length=lengths[0],
            unit_cost=Decimal("9.75"),
            supplier=seller if number % 2 else None,
        )
    return organisation, user


def sorted_materials(organisation: Organisation, house: House):
    from farmbuild.catalogue.models import Material

    return list(Material.objects.of(organisation).filter(pk__in=material_keys(house)).order_by("code"))


def _lengths(material, house: House, metric: bool):
    if not material.by_length:
        return [None]
    if material.kind == "film":
        return [Decimal(30480)]
    if material.kind == "channel":
        return [Decimal("3657.6")]
    if material.kind == "lumber":
        return [Decimal(length) for length in house.hip_board_lengths] or [Decimal("3657.6")]
    stick = house.recipe.stick_length
    return [stick, stick * 2]


@pytest.fixture
def imperial(db):
    return filled()


@pytest.fixture
def metric(db):
    return filled(metric=True)
