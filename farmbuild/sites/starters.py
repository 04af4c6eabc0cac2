"""Shipped specs that a new house may start from: plain data in fixtures/, a file for each unit system."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.conf import settings

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_in_use, materials_of
from farmbuild.catalogue.services import shipped_materials
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.measure import POINT, UnitSystem, use_style
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import BY_NAME, RECIPE_BY_NAME, SPEC_FIELDS, FieldKind, SpecField, names_of, read_length
from farmbuild.sites.models import House

STARTER_FILES = {
    UnitSystem.IMPERIAL: settings.BASE_DIR / "fixtures" / "starter_specs.json",
    UnitSystem.METRIC: settings.BASE_DIR / "fixtures" / "starter_specs_metric.json",
}


#: Of a recipe; the file names them by code, and leaves out what is as by default.
RECIPE_TUBES = tuple(field.name for field in RECIPE_BY_NAME.values() if field.kind is FieldKind.MATERIAL)


@dataclass(frozen=True)
class Starter:
    """``materials`` and ``recipe`` are values of catalogue and recipe rows; ``uses`` names materials by code.

    ``recipe`` is empty in the blank one.
    """

    slug: str
    name: str
    summary: str
    values: dict[str, Any]
    uses: dict[str, str]
    recipe: dict[str, Any]
    materials: dict[str, dict[str, Any]]


#: What the shipped ones say, marked for pages in another language.
SAID = (
    _("6 ft low tunnel, 3/4 in conduit"),
    _("Each hoop is one 10 ft stick of 3/4 in conduit, set in short posts of 1 in conduit."),
    _("6 ft low tunnel, 1/2 in conduit"),
    _("Each hoop is one 10 ft stick of 1/2 in conduit, set in short posts of 3/4 in conduit, closer together."),
    _("12 ft house, 1-3/8 in rail"),
    _("Each hoop is two 10 ft sticks of 1-3/8 in rail; a door in each end, boards at the hip and at the ground."),
    _("20 ft house, 1-3/8 in rail"),
    _(
        "Each hoop is three 10 ft sticks of 1-3/8 in rail; two doors in the front end, one in the "
        "back, a ridge and two side purlins."
    ),
    _("2 m tunnel, tube 25 × 1.5 mm"),
    _(
        "Each hoop is one 6 m tube, high enough to walk in, set in short posts of pipe DN 25; a "
        "ridge purlin, no end walls."
    ),
    _("5 m house, tube 40 × 2 mm"),
    _(
        "Each hoop is two plain 6 m tubes on a sleeve: a half circle on straight walls, for tall "
        "crops; a door in each end, boards at the hip and at the ground."
    ),
    _("8 m house, tube 40 × 2 mm"),
    _(
        "Each hoop is two plain 6 m tubes on a sleeve; two doors in the front end, one in the back, "
        "a ridge and two side purlins."
    ),
)
#: No house yet: whoever begins with it types sizes and chooses a recipe.
BLANK = Starter(
    slug="blank-house",
    name=_("Blank house"),
    summary=_("Only its name, sizes and recipe are asked. It takes nothing else until you choose it."),
    values={},
    uses={},
    recipe={},
    materials={},
)


def _recipe_values(row: dict[str, Any]) -> dict[str, Any]:
    return row | {name: _value(field, row[name]) for name, field in RECIPE_BY_NAME.items() if name in row}


def recipe_tubes(recipe: dict[str, Any], materials: dict[str, Any]) -> dict[str, Any]:
    """The recipe with rows of ``materials``, by code, for the tubes that it names."""
    named = {name: recipe.get(name) for name in RECIPE_TUBES}
    return recipe | {name: materials[code] if code else None for name, code in named.items()}


def _value(field: SpecField, typed: Any) -> Any:
    """What stands in the file, as a house or recipe stores it; materials and recipes stay as they are named."""
    match field.kind:
        case FieldKind.LENGTH:
            return read_length(typed)
        case FieldKind.LENGTHS:
            return [str(read_length(text)) for text in typed]
        case _:
            return typed


def read_starter(row: dict[str, Any], recipes: dict[str, Any], materials: dict[str, Any]) -> Starter:
    """``row`` is of the file; ``recipes`` and ``materials`` are values by slug and by code. KeyError names what is
    no field."""
    values = {name: _value(BY_NAME[name], typed) for name, typed in row["spec"].items()}
    uses = {name: values.pop(name) for name in names_of(FieldKind.MATERIAL) if name in values}
    recipe = recipes[values.pop("recipe")]
    tubes = [recipe[name] for name in RECIPE_TUBES if recipe.get(name)]
    return Starter(
        slug=row["slug"],
        name=row["name"],
        summary=row["summary"],
        values=values,
        uses=uses,
        recipe=recipe,
        materials={code: materials[code] for code in dict.fromkeys([*tubes, *uses.values()])},
    )


@cache
def starters_in(units: str) -> tuple[Starter, ...]:
    """The blank one, then those in feet and inches or in metres; the files are written with decimal points."""
    data = json.loads(STARTER_FILES[UnitSystem(units)].read_text(encoding="utf-8"))
    materials = {row["code"]: row for row in shipped_materials(units)}
    with use_style(POINT):
        recipes = {row["slug"]: _recipe_values(row) for row in data["recipes"]}
        return BLANK, *(read_starter(row, recipes, materials) for row in data["starters"])


def starters() -> tuple[Starter, ...]:
    """All, each once."""
    found = {starter.slug: starter for units in UnitSystem for starter in starters_in(units)}
    return tuple(found.values())


def starter_named(slug: str) -> Starter | None:
    return next((starter for starter in starters() if starter.slug == slug), None)


def starter_values(*, organisation: Organisation, starter: Starter) -> dict[str, Any] | None:
    """Values for a new house, with this organisation's rows; None when one of them is not there yet."""
    if not starter.recipe:
        return dict(starter.values)
    rows = materials_in_use(materials_of(organisation=organisation))
    found = {row.code: row for row in rows.filter(code__in=starter.materials)}
    recipe = any_recipe_of(organisation=organisation).filter(slug=starter.recipe["slug"]).first()
    if recipe is None or set(found) != set(starter.materials):
        return None
    return starter.values | {field: found[code] for field, code in starter.uses.items()} | {"recipe": recipe}


def values_like(house: House) -> dict[str, Any]:
    """Values for a new house with the spec of another; what is archived since is chosen anew."""
    values = {name: getattr(house, name) for name in SPEC_FIELDS}
    return {name: None if getattr(value, "archived_at", None) else value for name, value in values.items()}


def starter_house(starter: Starter) -> House:
    """The starter as an unsaved house, to draw and check; not for the blank one."""
    materials = {code: Material(**values) for code, values in starter.materials.items()}
    recipe = Recipe(**recipe_tubes(starter.recipe, materials))
    uses = {field: materials[code] for field, code in starter.uses.items()}
    return House(name=starter.name, slug=starter.slug, recipe=recipe, **starter.values, **uses)
