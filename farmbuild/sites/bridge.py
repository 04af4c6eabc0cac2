"""Sites and houses as planning inputs, and what planning says of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from farmbuild.catalogue.bridge import material_input, offer_inputs
from farmbuild.catalogue.models import PriceBreak
from farmbuild.hoops.recipes.bridge import recipe_input
from farmbuild.measure import POINT, NumberStyle, Unit, UnitSystem, current_style, parse_length
from farmbuild.planning import inputs, materials
from farmbuild.planning.buying.rough import RoughCost, rough_cost
from farmbuild.planning.house import spec
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.context import SpecProblem, house_context
from farmbuild.planning.house.drawn import DrawnHouse, drawn_house
from farmbuild.planning.house.fields import (
    BY_NAME,
    FIELDS,
    RECIPE_BY_NAME,
    FieldKind,
    SpecField,
    names_of,
    sections,
)
from farmbuild.planning.house.own_rows import MAX_NOTE, MAX_ROWS, PER_NAMES, PLACES, OwnRow, Per
from farmbuild.planning.house.part import WORK_NAMES
from farmbuild.planning.house.parts import GROUPS
from farmbuild.planning.house.parts.ends import EndWall
from farmbuild.planning.house.senses import SENSES
from farmbuild.planning.house.shape import HouseShape, bays_in, house_shape
from farmbuild.planning.house.summaries import section_words
from farmbuild.planning.house.takeoff import MaterialTotal, take_off, totals_by_material
from farmbuild.planning.results import BuyingSummary, SeasonPlan, TakeoffRow
from farmbuild.sites.models import House, HouseOwnRow, HouseSpec, Site

__all__ = [
    "BY_NAME",
    "FIELDS",
    "GROUPS",
    "MATERIAL_FIELDS",
    "MAX_NOTE",
    "MAX_ROWS",
    "PER_NAMES",
    "PLACES",
    "RECIPE_BY_NAME",
    "SENSES",
    "SPEC_FIELDS",
    "WORK_NAMES",
    "DrawnHouse",
    "EndWall",
    "FieldKind",
    "HouseShape",
    "MaterialTotal",
    "Per",
    "RoughCost",
    "SpecField",
    "TakeoffRow",
    "WholeMaterials",
    "drawn_of",
    "hoop_count",
    "house_input",
    "material_keys",
    "materials_in",
    "names_of",
    "own_rows_of",
    "problems_of",
    "read_length",
    "rough_cost_of",
    "section_words_of",
    "sections",
    "shape_of",
    "site_input",
    "spec_input",
    "spec_problems",
    "spec_remarks_of",
    "take_off_of",
    "take_off_typed",
    "takeoff_season",
    "totals_of",
    "whole",
]

#: Material foreign keys of a house; planning names materials by their code.
MATERIAL_FIELDS = names_of(FieldKind.MATERIAL)
#: Every field of a spec, in the order of the form.
SPEC_FIELDS = tuple(field.name for field in FIELDS)
#: What planning takes in another form than a house stores it, and the names of all else.
_OTHERWISE = tuple(
    field
    for field in FIELDS
    if field.kind in (FieldKind.MATERIAL, FieldKind.RECIPE, FieldKind.LENGTHS, FieldKind.CHOICE)
)
_AS_STORED = tuple(field.name for field in FIELDS if field not in _OTHERWISE)


def read_length(text: str) -> Decimal:
    """Exact millimetres from text of a shipped file, which names its unit and has a point."""
    return parse_length(text, Unit.MILLIMETRE, style=POINT)


def spec_input(house: HouseSpec) -> spec.HouseSpec:
    """A spec, saved or not, with its recipe and materials at hand."""
    parts = _parts_input(house)
    rows = own_rows_of(house)
    return replace(parts, own_rows=tuple(map(_own_row, rows))) if rows else parts


def _parts_input(house: HouseSpec) -> spec.HouseSpec:
    """Without the rows of its own, which have no shape. One that is being typed may have no recipe yet."""
    values = {name: getattr(house, name, None) for name in _AS_STORED}
    values |= {field.name: _value(field, getattr(house, field.name, None)) for field in _OTHERWISE}
    return spec.HouseSpec(**values)


def own_rows_of(house: HouseSpec) -> list[HouseOwnRow]:
    """As typed, else as stored, with their materials; a spec that was never stored has none."""
    if not isinstance(house, House):
        return []
    if house.typed_rows is not None:
        return house.typed_rows
    return list(house.own_rows.all()) if house.pk else []


def _own_row(row: HouseOwnRow) -> OwnRow:
    return OwnRow(
        material=row.material.code if row.material_id else "",
        quantity=row.quantity,
        per=Per(row.per),
        length=row.length,
        step=row.step,
        note=row.note,
    )


def _value(field: SpecField, stored: Any) -> Any:
    """What a house stores of a field, as planning takes it."""
    match field.kind:
        case FieldKind.MATERIAL:
            return stored.code if stored else ""
        case FieldKind.RECIPE:
            return recipe_input(stored) if stored else None
        case FieldKind.LENGTHS:
            return tuple(Decimal(length) for length in stored)
        case FieldKind.CHOICE:
            return type(field.default)(stored)
    raise ValueError(f"{field.kind} is taken as it is stored.")


def house_input(house: House) -> spec.House:
    return spec.House(
        ref=house.slug,
        name=house.name,
        site=house.site.slug,
        need_date=house.need_date,
        spec=spec_input(house),
    )


def site_input(site: Site) -> inputs.Site:
    return inputs.Site(code=site.slug, name=site.name, address=site.address)


def materials_in(house: HouseSpec) -> dict[str, materials.Material]:
    """The materials that a spec names, by code."""
    named = [getattr(house, name) for name in MATERIAL_FIELDS]
    named += [house.recipe.tube, house.recipe.sleeve_material]
    named += [row.material for row in own_rows_of(house) if row.material_id]
    return {material.code: material_input(material) for material in named if material}


#: Materials, each with its yield, in which alone two that count as equal may differ.
WholeMaterials = tuple[tuple[materials.Material, Decimal | None], ...]


def whole(found: Mapping[str, materials.Material]) -> WholeMaterials:
    """All that is known of these materials, as the key of what is worked out of them."""
    return tuple((material, material.yield_mpa) for material in found.values())


def material_keys(house: House) -> set[int]:
    """Keys of the materials that a stored house names."""
    keys = {getattr(house, f"{name}_id") for name in MATERIAL_FIELDS}
    keys |= {house.recipe.tube_id, house.recipe.sleeve_material_id}
    return (keys | {row.material_id for row in own_rows_of(house)}) - {None}


def problems_of(house: HouseSpec, units: UnitSystem | str) -> list[SpecProblem]:
    return list(_problems(spec_input(house), whole(materials_in(house)), UnitSystem(units), current_style()))


# Equal input gives equal sentences.
@lru_cache(maxsize=1024)
def _problems(
    house: spec.HouseSpec, named: WholeMaterials, units: UnitSystem, _style: NumberStyle
) -> tuple[SpecProblem, ...]:
    return tuple(check_spec(house, {material.code: material for material, _ in named}, units))


def spec_problems(house: HouseSpec, units: UnitSystem | str) -> list[tuple[str, str]]:
    """(field of the house, what keeps it from being built); an empty list: nothing does."""
    return [(problem.field, problem.message) for problem in problems_of(house, units)]


def spec_remarks_of(house: HouseSpec, units: UnitSystem | str) -> list[tuple[str, str]]:
    """(field of the house, what must be known of it), of a house without ``spec_problems``."""
    remarks = spec_remarks(spec_input(house), materials_in(house), UnitSystem(units))
    return [(remark.field, remark.message) for remark in remarks]


def section_words_of(house: HouseSpec, units: UnitSystem | str) -> dict[str, str]:
    """Each section of the form in one line, of a spec as far as it is typed."""
    named = (getattr(house, name) for name in MATERIAL_FIELDS)
    known = {material.code: material_input(material) for material in named if material}
    return section_words(_parts_input(house), known, UnitSystem(units))


def shape_of(house: HouseSpec) -> HouseShape:
    """Of a house without ``spec_problems``."""
    return house_shape(_parts_input(house))


def drawn_of(house: HouseSpec, units: UnitSystem | str) -> DrawnHouse:
    """What is drawn of a house without ``spec_problems``."""
    return drawn_house(house_context(spec_input(house), materials_in(house), UnitSystem(units)))


def take_off_of(house: House, units: UnitSystem | str) -> tuple[TakeoffRow, ...]:
    """Of a house without ``spec_problems``, with its materials at hand."""
    return _take_off(house_input(house), tuple(materials_in(house).values()), UnitSystem(units), current_style())


# Pages of many houses ask for the same take-offs again and again, and equal input gives equal rows.
@lru_cache(maxsize=1024)
def _take_off(
    house: spec.House, named: tuple[materials.Material, ...], units: UnitSystem, _style: NumberStyle
) -> tuple[TakeoffRow, ...]:
    return take_off(house, {material.code: material for material in named}, units)


def take_off_typed(house: HouseSpec, units: UnitSystem | str) -> tuple[TakeoffRow, ...]:
    """Of a house that is being typed: it may have no name and no site yet."""
    typed = spec.House(ref="", name="", site="", need_date=date.min, spec=spec_input(house))
    return _take_off(typed, tuple(materials_in(house).values()), UnitSystem(units), current_style())


def rough_cost_of(
    rows: Iterable[TakeoffRow], prices: Iterable[PriceBreak], house: HouseSpec, kerf: Decimal
) -> RoughCost:
    return rough_cost(rows, offer_inputs(prices), materials_in(house), kerf=kerf)


def totals_of(rows: Iterable[TakeoffRow]) -> tuple[MaterialTotal, ...]:
    return totals_by_material(rows)


def hoop_count(house: HouseSpec) -> int:
    """Hoops of a house: whole bays no longer than the spacing wanted, and one hoop more."""
    return bays_in(house.length, house.spacing_wanted) + 1


def takeoff_season(house: House) -> tuple[inputs.Season, SeasonPlan]:
    """One house alone as a season that holds its take-off and nothing else, for the workbook."""
    organisation = house.organisation
    season = inputs.Season(
        as_of=house.need_date,
        buyer=inputs.Buyer(
            name=organisation.name,
            address=organisation.address,
            contact=organisation.contact,
            currency=organisation.currency,
            units=UnitSystem(organisation.unit_system),
            decimal_sign=organisation.decimal_sign,
        ),
        delivery_site=house.site.slug,
        sites=(site_input(house.site),),
        houses=(house_input(house),),
        materials=tuple(materials_in(house).values()),
        lots=(),
        suppliers=(),
        offers=(),
        kerf=organisation.kerf,
        keep_from=organisation.keep_from,
    )
    nothing = Decimal(0)
    plan = SeasonPlan(
        takeoff=take_off_of(house, organisation.unit_system),
        allocations=(),
        layouts=(),
        cut_summaries=(),
        shortfalls=(),
        orders=(),
        buying=BuyingSummary(cost=nothing, bound=nothing, optimal=True),
        leftovers=(),
        unmet=(),
        leftover_value=nothing,
        scrap_value=nothing,
    )
    return season, plan
