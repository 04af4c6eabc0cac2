"""The invented season of fixtures/demo.json, entered as a user would enter it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import transaction

from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.catalogue.models import Material, Supplier
from farmbuild.catalogue.selectors import materials_of
from farmbuild.catalogue.services import add_starting_catalogue, create_supplier, save_offer
from farmbuild.crew.bookings.signins import sign_ins_of
from farmbuild.demo.bridge import read_length
from farmbuild.demo.crews import enter_crews
from farmbuild.demo.lending import enter_lending
from farmbuild.demo.problems import enter_problem
from farmbuild.demo.weather import enter_weather
from farmbuild.demo.work import enter_work
from farmbuild.hoops.batches import services as batches
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.hoops.benders.services import create_bender
from farmbuild.hoops.fits.rows import Reading
from farmbuild.hoops.fits.services import save_fit
from farmbuild.hoops.recipes.selectors import recipes_of
from farmbuild.hoops.recipes.services import save_recipe
from farmbuild.orgs.accounts import add_person, create_organisation
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.sites.models import House, Site
from farmbuild.sites.services import create_house, create_site, prepare_starter
from farmbuild.sites.starters import starter_named
from farmbuild.stock.counts.services import Counted, record_find, start_count
from farmbuild.stock.counts.services import record_counts as enter_counted
from farmbuild.stock.selectors import lots_of, places_of
from farmbuild.stock.services import place_named, receive_lot

SCENARIO = settings.BASE_DIR / "fixtures" / "demo.json"
#: For the made-up sign-in on one's own machine; the command refuses to load it on a public server.
PASSWORD = "hoops-and-rail"


@dataclass(frozen=True)
class Demo:
    """``fresh``: it was loaded now, not found."""

    organisation: Organisation
    user: User
    plan: Plan
    fresh: bool


@transaction.atomic
def load_demo() -> Demo:
    """Load the season and work out its plan, whole or not at all; what is there already is left as it is."""
    scenario = json.loads(SCENARIO.read_text(encoding="utf-8"))
    organisation = Organisation.objects.filter(slug=scenario["organisation"]["slug"]).first()
    fresh = organisation is None
    if organisation is None:
        organisation = _enter(scenario)
    user = User.objects.get(username=scenario["user"]["username"])
    plan = Plan.objects.of(organisation).order_by("number").first()
    if plan is None:
        raise LookupError("The demo season has no plan.")
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    # New, or left so by an earlier version that was stopped on the way.
    if not (plan.problem or plan.accepted_at or plan.released_at or plan.orders.exists()):
        with zone_in_force(organisation):
            # Its houses hold what it uses, so what comes on the orders below is held for them too.
            accept_plan(organisation=organisation, user=user, plan=plan)
            for row in scenario["orders"]:
                _order(plan, user, row)
            for row in scenario["counts"]:
                _count(organisation, user, row)
    return Demo(organisation, user, plan, fresh)


def visitors_of(demo: Demo) -> list[User]:
    """Those who sign in for a member of the cooperative."""
    return [row.user for row in sign_ins_of(organisation=demo.organisation)]


@transaction.atomic
def _order(plan: Plan, user: User, row: dict[str, Any]) -> None:
    """One order of the plan goes out, and some of it comes in."""
    order = plan.orders.get(supplier__code=row["supplier"])
    given = {"organisation": plan.organisation, "user": user, "order": order}
    send_order(**given, sent_on=date.fromisoformat(row["sent_on"]), how=row["how"])
    lines = dict(order.lines.values_list("position", "pk"))
    came = [
        Arrival(
            line=lines[line["line"]],
            arrived=line["arrived"],
            damaged=line.get("damaged", 0),
            damage_reason=line.get("damage", ""),
        )
        for line in row["received"]["lines"]
    ]
    receive_goods(
        **given,
        arrivals=came,
        received_on=date.fromisoformat(row["received"]["on"]),
        paper=row["received"]["paper"],
        place=row["received"]["place"],
        token=f"demo-{order.number}",
    )


@transaction.atomic
def _count(organisation: Organisation, user: User, row: dict[str, Any]) -> None:
    """A stock count that is under way: some lots are counted, and something is found."""
    given = {"organisation": organisation, "user": user}
    places = {place.name: place for place in places_of(organisation=organisation)}
    count = start_count(**given, places=[places[name] for name in row["places"]], look_again=Decimal(row["look_again"]))
    lots = dict(lots_of(organisation=organisation).values_list("reference", "pk"))
    enter_counted(
        **given, count=count, counted=[Counted(lots[reference], pieces) for reference, pieces in row["entered"].items()]
    )
    found = row["found"]
    record_find(
        **given,
        count=count,
        place=places[found["place"]],
        material=materials_of(organisation=organisation).get(code=found["material"]),
        length=read_length(found["length"]),
        offcut=True,
        quantity=found["quantity"],
        note=found["note"],
    )


@transaction.atomic
def _enter(scenario: dict[str, Any]) -> Organisation:
    """The season with what the tests of pages begin from; its plan still has to be worked out."""
    farm = open_farm(scenario)
    given = (farm.organisation, farm.user)
    for row in scenario["batches"]:
        _batch(*given, farm.houses, row)
    for row in scenario["fits"]:
        enter_fit(*given, farm.houses, row)
    enter_lending(*given, scenario["lending"], PASSWORD)
    enter_weather(*given, farm.sites, scenario["weather"])
    enter_work(*given, farm.houses)
    enter_problem(*given, scenario["problem"])
    enter_plan(farm, scenario)
    return farm.organisation


@dataclass(frozen=True)
class Farm:
    """What is there before anything is planned or built."""

    organisation: Organisation
    user: User
    sites: dict[str, Site]
    houses: list[House]


@transaction.atomic
def open_farm(scenario: dict[str, Any]) -> Farm:
    """Sites, houses, benders, suppliers, what lies in the yard, and crews."""
    details = scenario["organisation"] | {
        "tax_percent": Decimal(scenario["organisation"]["tax_percent"]),
        "invented": True,
    }
    organisation = create_organisation(**details)
    user = add_person(organisation=organisation, password=PASSWORD, **scenario["user"])
    add_starting_catalogue(organisation=organisation)
    sites = {row["name"]: create_site(organisation=organisation, user=user, **row) for row in scenario["sites"]}
    houses = [_house(organisation, user, sites, row) for row in scenario["houses"]]
    materials = {material.code: material for material in materials_of(organisation=organisation)}
    for row in scenario["benders"]:
        _bender(organisation, user, materials, row)
    suppliers = {row["code"]: _supplier(organisation, user, materials, row) for row in scenario["suppliers"]}
    for row in scenario["stock"]:
        _lot(organisation, user, sites, materials, suppliers, row)
    enter_crews(organisation, user, sites, scenario["crew"])
    return Farm(organisation, user, sites, houses)


def enter_plan(farm: Farm, scenario: dict[str, Any]) -> Plan:
    """Of all houses; it still has to be worked out."""
    return create_plan(
        organisation=farm.organisation,
        user=farm.user,
        name=scenario["plan"]["name"],
        houses=farm.houses,
        delivery_site=farm.sites[scenario["plan"]["delivery_site"]],
        as_of=date.fromisoformat(scenario["as_of"]),
    ).plan


def _house(organisation: Organisation, user: User, sites: dict[str, Site], row: dict[str, Any]) -> House:
    starter = starter_named(row["starter"])
    if starter is None:
        raise LookupError(f"There is no starter spec named {row['starter']}.")
    values = prepare_starter(organisation=organisation, user=user, starter=starter)
    return create_house(
        organisation=organisation,
        user=user,
        site=sites[row["site"]],
        name=row["name"],
        need_date=date.fromisoformat(row["need_date"]),
        data=values | {"length": read_length(row["length"])} | _place(row),
    )


def _place(row: dict[str, Any]) -> dict[str, Any]:
    """Where it stands on its site; of some it is not said."""
    if "along" not in row:
        return {}
    offsets = {name: read_length(row[name]) for name in ("along", "across")}
    return offsets | {"ridge_turn": row.get("turn", 0)}


def _bender(organisation: Organisation, user: User, materials: dict[str, Material], row: dict[str, Any]) -> None:
    sizes = {name: read_length(row[name]) for name in ("rated_radius", "rated_span")}
    bender = create_bender(
        organisation=organisation,
        user=user,
        data=row | sizes | {"tubes": [materials[code] for code in row["tubes"]]},
    )
    for recipe in recipes_of(organisation=organisation).filter(slug__in=row["recipes"]):
        save_recipe(organisation=organisation, user=user, recipe=recipe, data={"bender": bender})


def _batch(organisation: Organisation, user: User, houses: list[House], row: dict[str, Any]) -> None:
    """Trial hoops in turn, each but the last spoilt and corrected, the last accepted; then hoops bent."""
    house = next(house for house in houses if house.name == row["house"])
    lot = lots_of(organisation=organisation).get(reference=row["lot"])
    who = {"organisation": organisation, "user": user}
    batch = batches.create_batch(
        **who,
        recipe=house.recipe,
        bender=benders_of(organisation=organisation).get(slug=row["bender"]),
        quantity=row["quantity"],
        shares={house: row["quantity"]},
        data={"post_span": house.post_span, "spring_in": read_length(row["spring_in"])},
    )
    batches.issue_sticks(**who, batch=batch, lot=lot, quantity=batch.sticks_a_hoop)
    for measured in row["trials"]:
        sizes = {name: read_length(measured[name]) for name in ("free_span", "rise", "twist")}
        trial = batches.record_trial(**who, batch=batch, data=sizes)
        if reason := measured.get("spoilt"):
            batches.write_off_sticks(**who, batch=batch, quantity=batch.sticks_a_hoop, reason=reason, trial=trial)
            batches.correct_gap(**who, batch=batch, trial=trial)
            batches.issue_sticks(**who, batch=batch, lot=lot, quantity=batch.sticks_a_hoop)
        else:
            batches.accept_trial(**who, batch=batch, trial=trial)
    for hoops in row["bent"]:
        batches.issue_sticks(**who, batch=batch, lot=lot, quantity=hoops * batch.sticks_a_hoop)
        batches.record_bent(**who, batch=batch, hoops=hoops)


def enter_fit(organisation: Organisation, user: User, houses: list[House], row: dict[str, Any]) -> None:
    """Hoops in turn from the front; those behind them are not measured."""
    save_fit(
        organisation=organisation,
        user=user,
        house=next(house for house in houses if house.name == row["house"]),
        readings=[
            Reading(
                hoop=hoop,
                ridge_height=read_length(measured["ridge"]),
                post_span=read_length(measured["span"]),
                down=read_length(measured["down"]) or Decimal(0),
                up=read_length(measured["up"]) or Decimal(0),
            )
            for hoop, measured in enumerate(row["hoops"], 1)
        ],
        tolerance=read_length(row["tolerance"]) or Decimal(0),
        span_tolerance=read_length(row["span_tolerance"]) or Decimal(0),
        slope=Decimal(row["slope"]),
    )


def _supplier(organisation: Organisation, user: User, materials: dict[str, Material], row: dict[str, Any]) -> Supplier:
    supplier = create_supplier(
        organisation=organisation,
        user=user,
        code=row["code"],
        name=row["name"],
        contact=row["contact"],
        address=row["address"],
        delivery_charge=Decimal(row["delivery_charge"]),
        free_delivery_from=Decimal(row["free_delivery_from"]) if row["free_delivery_from"] else None,
        minimum_order=Decimal(row["minimum_order"]),
    )
    for offer in row["offers"]:
        save_offer(
            organisation=organisation,
            user=user,
            supplier=supplier,
            data={
                "material": materials[offer["material"]],
                "length": read_length(offer["length"]),
                "pack": offer["pack"],
                "lead_days": offer["lead_days"],
                "valid_until": None,
                "supplier_code": offer["code"],
            },
            breaks=[(int(quantity), Decimal(price)) for quantity, price in offer["prices"].items()],
        )
    return supplier


def _lot(
    organisation: Organisation,
    user: User,
    sites: dict[str, Site],
    materials: dict[str, Material],
    suppliers: dict[str, Supplier],
    row: dict[str, Any],
) -> None:
    receive_lot(
        organisation=organisation,
        user=user,
        material=materials[row["material"]],
        quantity=row["quantity"],
        place=place_named(organisation=organisation, user=user, name=row["place"], site=sites[row["site"]]),
        received_on=date.fromisoformat(row["received"]),
        length=read_length(row["length"]),
        unit_cost=Decimal(row["cost"]),
        supplier=suppliers.get(row.get("supplier", "")),
        reference=row["reference"],
        offcut=row.get("offcut", False),
    )
