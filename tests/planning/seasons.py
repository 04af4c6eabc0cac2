"""Invented seasons for tests and benchmarks: every name, price and quantity is made up.

Lumber sizes are the dressed sizes of nominal 2x4, 2x6 and 1x6 softwood: 1 1/2 x 3 1/2, 1 1/2 x 5 1/2 and
3/4 x 5 1/2 in (PS 20, American Softwood Lumber Standard, table 3; typed from memory).
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.spec import House, HouseSpec, Recipe, SideClosing
from farmbuild.planning.inputs import Buyer, Lot, Offer, PriceBreak, Season, Site, Supplier
from farmbuild.planning.materials import Kind, Material

AS_OF = date(2027, 2, 1)
ZERO = Decimal(0)


def inches(value: float | int | str) -> Decimal:
    return Decimal(str(value)) * Decimal("25.4")


def feet(value: float | int | str, more: float | int | str = 0) -> Decimal:
    return Decimal(str(value)) * Decimal("304.8") + inches(more)


MATERIALS = (
    Material("rail-1-3-8", "1-3/8 top rail", Kind.TUBE, inches("1.375"), inches("0.065"), swaged=True),
    Material("rail-1-5-8", "1-5/8 post tube", Kind.TUBE, inches("1.66"), inches("0.065")),
    Material("emt-3-4", "3/4 EMT conduit", Kind.TUBE, inches("0.922"), inches("0.049")),
    Material("lumber-2x4", "2x4", Kind.LUMBER, inches("3.5"), inches("1.5")),
    Material("lumber-2x6", "2x6", Kind.LUMBER, inches("5.5"), inches("1.5")),
    Material("lumber-1x6", "1x6", Kind.LUMBER, inches("5.5"), inches("0.75")),
    Material("film-32", "film 32 ft wide", Kind.FILM, feet(32)),
    Material("film-48", "film 48 ft wide", Kind.FILM, feet(48)),
    Material("channel", "fixing channel", Kind.CHANNEL),
    Material("screw", "joint screw", Kind.FASTENER),
    Material("bolt", "carriage bolt", Kind.FASTENER),
    Material("anchor", "earth anchor", Kind.ANCHOR),
)
BY_CODE = {m.code: m for m in MATERIALS}

#: 1 stick of conduit for a low tunnel, 2 sticks of rail for 12 ft, 3 for 20 ft (common practice, no source).
LOW_RECIPE = Recipe("6 ft", "emt-3-4", feet(10), 1, ZERO, inches(38), inches(6), inches(12), inches(1))
TWELVE_RECIPE = Recipe("12 ft", "rail-1-3-8", feet(10), 2, inches(6), inches(78), inches(9), inches(18), inches(1))
TWENTY_RECIPE = Recipe("20 ft", "rail-1-3-8", feet(10), 3, inches(6), inches(126), inches(9), inches(18), inches(1))

LOW = HouseSpec(
    post_span=feet(6),
    length=feet(40),
    spacing_wanted=feet(4),
    recipe=LOW_RECIPE,
    film_material="film-32",
    film_layers=1,
    film_side_allowance=feet(1),
    film_end_allowance=feet(3),
)
TWELVE = HouseSpec(
    post_span=feet(12),
    length=feet(48),
    spacing_wanted=feet(4),
    recipe=TWELVE_RECIPE,
    post_material="rail-1-5-8",
    post_length=feet(4),
    post_depth=feet(2),
    purlin_material="rail-1-3-8",
    purlin_stick_length=feet(10),
    purlin_insertion=inches(6),
    ridge_purlins=1,
    side_purlins=2,
    hip_board_material="lumber-1x6",
    hip_board_rows=1,
    hip_board_lengths=(feet(8), feet(12), feet(16)),
    base_board_material="lumber-2x6",
    base_board_rows=1,
    base_board_lengths=(feet(8), feet(12), feet(16)),
    end_walls=2,
    end_frame_material="lumber-2x4",
    end_stud_spacing=feet(2),
    front_door_count=1,
    front_door_width=feet(4),
    front_door_height=feet(6, 6),
    brace_material="rail-1-5-8",
    brace_count=4,
    brace_length=feet(8),
    film_material="film-32",
    film_layers=1,
    film_side_allowance=feet(2),
    film_end_allowance=feet(2),
    channel_material="channel",
    channel_runs=4,
    channel_on_ends=True,
    screw_material="screw",
    screws_per_joint=2,
    bolt_material="bolt",
    bolts_per_crossing=1,
    anchor_material="anchor",
    anchor_count=8,
)
TWENTY = replace(
    TWELVE,
    post_span=feet(20),
    length=feet(96),
    recipe=TWENTY_RECIPE,
    post_length=feet(5),
    post_depth=feet(2, 6),
    side_purlins=4,
    front_door_count=2,
    front_door_width=feet(3, 6),
    front_door_height=feet(6, 8),
    back_door_count=1,
    back_door_width=feet(4),
    back_door_height=feet(6, 8),
    film_material="film-48",
    film_layers=2,
    # The posts stand 30 in out, and the film has 24 in to spare.
    side_closing=SideClosing.OPEN,
    anchor_count=16,
)

SITES = (Site("north", "North Field", "1 Invented Lane"), Site("creek", "Creek Bottom", "2 Invented Lane"))
BUYER = Buyer(
    "Made-up Growers",
    "1 Invented Lane",
    "Pat, yard",
    "USD",
    UnitSystem.IMPERIAL,
    "Sales tax",
    Decimal("6.25"),
)
SUPPLIERS = (
    Supplier("pipe", "Invented Pipe", "3 Invented Quay", "Counter", Decimal(85), Decimal(3000), Decimal(150)),
    Supplier("tubes", "Imaginary Tubes", "9 Invented Quay", "Desk", Decimal(45), None, ZERO),
    Supplier("yard", "Invented Lumber", "5 Invented Row", "Office", Decimal(60), None, ZERO),
    Supplier("grow", "Invented Grower Supply", "6 Invented Row", "Phone", Decimal(120), Decimal(2500), Decimal(50)),
)


def offer(
    supplier: str,
    material: str,
    length: Decimal | None,
    prices: dict[int, str],
    *,
    pack: int = 1,
    lead: int = 6,
    valid: date | None = None,
) -> Offer:
    size = "" if length is None else f"-{length / Decimal('304.8'):f}"
    breaks = tuple(PriceBreak(n, Decimal(price)) for n, price in prices.items())
    return Offer(f"{supplier}:{material}{size}", supplier, material, length, pack, breaks, lead, valid)


OFFERS = (
    offer("pipe", "rail-1-3-8", feet(10), {1: "14.60", 50: "13.40", 200: "12.75"}),
    offer("tubes", "rail-1-3-8", feet(10), {1: "13.90", 100: "13.10"}, pack=10, lead=12),
    offer("pipe", "rail-1-5-8", feet(10), {1: "18.20", 100: "17.20"}),
    offer("pipe", "rail-1-5-8", feet(21), {1: "36.90", 50: "34.10"}),
    offer("tubes", "emt-3-4", feet(10), {1: "10.80", 100: "9.95"}, pack=10, lead=3),
    offer("yard", "lumber-2x4", feet(8), {1: "4.85"}, lead=2),
    offer("yard", "lumber-2x4", feet(12), {1: "7.60"}, lead=2),
    offer("yard", "lumber-2x4", feet(16), {1: "10.40"}, lead=2),
    offer("yard", "lumber-2x6", feet(8), {1: "7.25"}, lead=2),
    offer("yard", "lumber-2x6", feet(12), {1: "11.10"}, lead=2),
    offer("yard", "lumber-2x6", feet(16), {1: "15.60"}, lead=2),
    offer("yard", "lumber-1x6", feet(8), {1: "6.10"}, lead=2),
    offer("yard", "lumber-1x6", feet(12), {1: "9.30"}, lead=2),
    offer("yard", "lumber-1x6", feet(16), {1: "12.60"}, lead=2),
    offer("grow", "film-32", feet(100), {1: "265.00", 4: "248.00"}, lead=10),
    offer("grow", "film-32", feet(150), {1: "380.00"}, lead=10),
    offer("grow", "film-48", feet(100), {1: "395.00"}, lead=10),
    offer("grow", "film-48", feet(150), {1: "560.00", 5: "540.00"}, lead=10),
    offer("grow", "channel", feet(12), {1: "13.20", 100: "12.40"}, pack=10, lead=10),
    offer("grow", "screw", None, {1: "0.085", 1000: "0.062"}, pack=100, lead=10),
    offer("pipe", "screw", None, {1: "0.079"}, pack=250),
    offer("yard", "bolt", None, {1: "0.62", 200: "0.54"}, pack=25, lead=2),
    offer("grow", "anchor", None, {1: "8.90", 50: "8.10"}, lead=10),
)


def house(ref: str, spec: HouseSpec, *, site: str = "north", need: date = date(2027, 4, 5)) -> House:
    return House(ref, f"House {ref}", site, need, spec)


def season(*houses: House, lots: tuple[Lot, ...] = (), **changes: object) -> Season:
    base = Season(
        as_of=AS_OF,
        buyer=BUYER,
        delivery_site="north",
        sites=SITES,
        houses=houses,
        materials=MATERIALS,
        lots=lots,
        suppliers=SUPPLIERS,
        offers=OFFERS,
        kerf=inches("0.125"),
        keep_from=feet(2),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


#: A dozen house types: 2 low tunnels, 5 of 12 ft and 5 of 20 ft.
HOUSE_TYPES = (
    LOW,
    replace(LOW, length=feet(80)),
    TWELVE,
    replace(TWELVE, length=feet(60)),
    replace(TWELVE, length=feet(72), back_door_count=1, back_door_width=feet(4), back_door_height=feet(6, 6)),
    replace(TWELVE, length=feet(36), end_stud_spacing=feet(1, 8)),
    replace(TWELVE, spacing_wanted=feet(5), length=feet(50), post_length=feet(4, 6), side_closing=SideClosing.OPEN),
    TWENTY,
    replace(TWENTY, length=feet(72)),
    replace(TWENTY, length=feet(48), brace_length=feet(9)),
    replace(TWENTY, length=feet(60), spacing_wanted=feet(5), post_length=feet(5, 6)),
    replace(TWENTY, length=feet(84), end_stud_spacing=feet(2, 6), film_layers=1),
)


def big_season(houses: int, sites: int = 20, lots: int = 5000, seed: int = 1) -> Season:
    """A season of many houses: a dozen types, one in ten with an odd length; lots of varied lengths."""
    rng = random.Random(seed)
    places = tuple(Site(f"site-{n}", f"Invented Farm {n}") for n in range(1, sites + 1))
    built = []
    for n in range(1, houses + 1):
        spec = HOUSE_TYPES[rng.randrange(len(HOUSE_TYPES))]
        if rng.random() < 0.1:
            spec = replace(spec, length=spec.length + inches(rng.randrange(1, 48)))
        need = date(2027, 3, 15) + timedelta(days=7 * rng.randrange(12))
        built.append(house(f"H{n}", spec, site=rng.choice(places).code, need=need))
    return season(
        *built,
        lots=tuple(_lot(rng, n, places) for n in range(1, lots + 1)),
        sites=places,
        delivery_site=places[0].code,
    )


def _lot(rng: random.Random, n: int, places: tuple[Site, ...]) -> Lot:
    place = rng.choice(places)
    bought = rng.choice(OFFERS)
    price = bought.breaks[0].unit_price
    cost = (price * rng.choice((80, 90, 95, 100)) / 100).quantize(Decimal("0.01"))
    if bought.length is not None and rng.random() < 0.5:
        length = inches(rng.randrange(12, int(bought.length / inches(1)))) + inches(rng.choice(("0", "0.25", "0.5")))
        cost = (price * length / bought.length).quantize(Decimal("0.01"))
        return Lot(f"LOT-{n}", bought.material, length, rng.randrange(1, 4), cost, place.name, True, place.code)
    many = rng.randrange(1, 6) if bought.length else rng.randrange(10, 60)
    return Lot(f"LOT-{n}", bought.material, bought.length, many, cost, place.name, False, place.code)
