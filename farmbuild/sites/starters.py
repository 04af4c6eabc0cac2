"""Shipped specs that a new house may start from: plain data in fixtures/starter_specs.json."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.conf import settings

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of
from farmbuild.catalogue.services import STARTING_CATALOGUE
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import read_length
from farmbuild.sites.models import House

STARTER_FILE = settings.BASE_DIR / "fixtures" / "starter_specs.json"
_RECIPE_LENGTHS = ("stick_length", "insertion", "radius", "first_mark", "pitch", "stop_gap")


@dataclass(frozen=True)
class Starter:
    """``materials`` and ``recipe`` are values of catalogue and recipe rows; ``uses`` names materials by code."""

    slug: str
    name: str
    summary: str
    values: dict[str, Any]
    uses: dict[str, str]
    recipe: dict[str, Any]
    materials: dict[str, dict[str, Any]]


def _material_values(row: dict[str, Any]) -> dict[str, Any]:
    sizes = {name: read_length(row[name]) if row[name] else None for name in ("width", "thickness")}
    return row | sizes


def _recipe_values(row: dict[str, Any]) -> dict[str, Any]:
    return row | {name: read_length(row[name]) for name in _RECIPE_LENGTHS}


def _starter(row: dict[str, Any], recipes: dict[str, Any], materials: dict[str, Any]) -> Starter:
    lists = {name: [str(read_length(text)) for text in texts] for name, texts in row["length_lists"].items()}
    lengths = {name: read_length(text) for name, text in row["lengths"].items()}
    recipe = recipes[row["recipe"]]
    codes = dict.fromkeys([recipe["tube"], *row["materials"].values()])
    return Starter(
        slug=row["slug"],
        name=row["name"],
        summary=row["summary"],
        values=lengths | lists | row["counts"] | row["flags"],
        uses=row["materials"],
        recipe=recipe,
        materials={code: materials[code] for code in codes},
    )


@cache
def starters() -> tuple[Starter, ...]:
    data = json.loads(STARTER_FILE.read_text(encoding="utf-8"))
    recipes = {row["slug"]: _recipe_values(row) for row in data["recipes"]}
    shipped = json.loads(STARTING_CATALOGUE.read_text(encoding="utf-8"))["materials"]
    materials = {row["code"]: _material_values(row) for row in shipped}
    return tuple(_starter(row, recipes, materials) for row in data["starters"])


def starter_named(slug: str) -> Starter | None:
    return next((starter for starter in starters() if starter.slug == slug), None)


def starter_values(*, organisation: Organisation, starter: Starter) -> dict[str, Any] | None:
    """Values for a new house, with this organisation's rows; None when one of them is not there yet."""
    found = {row.code: row for row in materials_of(organisation=organisation).filter(code__in=starter.materials)}
    recipe = any_recipe_of(organisation=organisation).filter(slug=starter.recipe["slug"]).first()
    if recipe is None or set(found) != set(starter.materials):
        return None
    return starter.values | {field: found[code] for field, code in starter.uses.items()} | {"recipe": recipe}


def starter_house(starter: Starter) -> House:
    """The starter as an unsaved house, to draw and check."""
    materials = {code: Material(**values) for code, values in starter.materials.items()}
    recipe = Recipe(**(starter.recipe | {"tube": materials[starter.recipe["tube"]]}))
    uses = {field: materials[code] for field, code in starter.uses.items()}
    return House(name=starter.name, slug=starter.slug, recipe=recipe, **starter.values, **uses)
