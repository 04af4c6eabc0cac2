"""The rows of a project workbook, once read, as a season."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS, FieldKind, SpecField
from farmbuild.planning.house.own_rows import PER_NAMES, OwnRow, Per
from farmbuild.planning.house.spec import House, HouseSpec, Recipe
from farmbuild.planning.inputs import Buyer, Lot, Offer, PriceBreak, Season, Site, Supplier
from farmbuild.planning.materials import Kind, Material
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project_layout import SheetLayout

PERS = {"": Per.HOUSE} | {words: per for per, words in PER_NAMES.items()}
STEPS = {"": ""} | {words: step for step, words in layout.STEP_WORDS.items()}
KINDS = {words: kind for kind, words in layout.KIND_WORDS.items()}


@dataclass
class Line:
    """One row as understood so far; ``bad`` names the fields that could not be read."""

    row: int
    values: dict[str, Any]
    bad: set[str] = field(default_factory=set)


@dataclass
class Table:
    """``there``: which columns the sheet has."""

    layout: SheetLayout
    lines: list[Line] = field(default_factory=list)
    there: frozenset[str] = frozenset()

    @property
    def keys(self) -> set[str]:
        return {line.values.get(self.layout.key, "") for line in self.lines} - {""}


def build_season(project: Line, tables: Mapping[str, Table], units: UnitSystem) -> Season:
    answers = dict(project.values)
    given = {name: answers.pop(name) for name in ("delivery_site", "as_of", "kerf", "keep_from")}
    answers["units"] = units
    answers["decimal_sign"] = layout.SIGN_WORDS.get(answers["decimal_sign"], ".")
    answers["prices_include_tax"] = answers.pop("prices") == layout.PRICES[True]
    recipes = {line.values["name"]: build_recipe(line) for line in tables["Recipes"].lines}
    own = own_lines(tables)
    return Season(
        buyer=Buyer(**answers),
        sites=tuple(Site(**_named(line, layout.SITES)) for line in tables["Sites"].lines),
        houses=tuple(_house(line, recipes, own.get(line.values["ref"], [])) for line in tables["Houses"].lines),
        materials=tuple(map(build_material, tables["Materials"].lines)),
        lots=tuple(Lot(**_planned(line, layout.STOCK)) for line in tables["Stock"].lines),
        suppliers=tuple(Supplier(**_named(line, layout.SUPPLIERS)) for line in tables["Suppliers"].lines),
        offers=tuple(map(_offer, tables["Offers"].lines)),
        **given,
    )


def _planned(line: Line, sheet: SheetLayout) -> dict[str, Any]:
    """What a plan takes of a row."""
    return {name: value for name, value in line.values.items() if not sheet.by_name[name].site_only}


def _named(line: Line, sheet: SheetLayout) -> dict[str, Any]:
    """The values of a row; where no name was given, its code is the name."""
    return _planned(line, sheet) | {"name": line.values["name"] or line.values["code"]}


def build_material(line: Line) -> Material:
    return Material(**(_named(line, layout.MATERIALS) | {"kind": KINDS.get(line.values["kind"], Kind.HARDWARE)}))


def build_recipe(line: Line) -> Recipe:
    return Recipe(**(_planned(line, layout.RECIPES) | _chosen(line, RECIPE_FIELDS)))


def _chosen(line: Line, fields: Iterable[SpecField]) -> dict[str, Any]:
    return {
        field.name: type(field.default)(line.values[field.name]) for field in fields if field.kind is FieldKind.CHOICE
    }


def own_lines(tables: Mapping[str, Table]) -> dict[str, list[Line]]:
    """Rows of the houses' own, by the name of the house."""
    found: dict[str, list[Line]] = {}
    for line in tables["Own rows"].lines:
        found.setdefault(line.values["house"], []).append(line)
    return found


def _house(line: Line, recipes: Mapping[str, Recipe], own: Iterable[Line]) -> House:
    values = line.values
    return House(
        ref=values["ref"],
        name=values["name"] or values["ref"],
        site=values["site"],
        need_date=values["need_date"],
        spec=build_spec(line, recipes[values["recipe"]], own),
    )


def build_spec(line: Line, recipe: Recipe, own: Iterable[Line] = ()) -> HouseSpec:
    values = {field.name: line.values[field.name] for field in FIELDS}
    return HouseSpec(**(values | _chosen(line, FIELDS) | {"recipe": recipe, "own_rows": tuple(map(_own_row, own))}))


def _own_row(line: Line) -> OwnRow:
    values = {name: value for name, value in line.values.items() if name != "house"}
    return OwnRow(**(values | {"per": PERS[values["per"]], "step": STEPS[values["step"]]}))


def _offer(line: Line) -> Offer:
    values = _planned(line, layout.OFFERS)
    steps = tuple(_steps(values))
    return Offer(**{name: value for name, value in values.items() if name != "breaks"}, breaks=steps)


def _steps(values: dict[str, Any]) -> Iterator[PriceBreak]:
    """Takes the price steps out of the row."""
    for n in range(1, layout.MAX_BREAKS + 1):
        quantity, price = values.pop(f"from_{n}"), values.pop(f"price_{n}")
        if quantity is not None:
            yield PriceBreak(quantity, price)
