"""Houses of options: stored as plain values, and read back as unsaved houses with their rows at hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.selectors import any_recipe_of
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import OptionHouse
from farmbuild.sites.bridge import BY_NAME, SPEC_FIELDS, FieldKind, own_rows_of
from farmbuild.sites.models import House, HouseOwnRow, Site

_OWN_ROW = ("quantity", "per", "length", "step", "note")


def packed_spec(data: Mapping[str, Any]) -> dict[str, Any]:
    """``data``: fields of HouseSpec, as a form or a house gives them."""
    return {name: _packed(BY_NAME[name].kind, data[name]) for name in SPEC_FIELDS if name in data}


def _packed(kind: FieldKind, value: Any) -> Any:
    match kind:
        case FieldKind.MATERIAL:
            return value.code if value else ""
        case FieldKind.RECIPE:
            return value.slug
        case FieldKind.LENGTH:
            return str(value)
        case _:
            return value


def packed_rows(rows: Iterable[HouseOwnRow | Mapping[str, Any]]) -> list[dict[str, Any]]:
    found = []
    for row in rows:
        get = row.get if isinstance(row, Mapping) else (lambda name, row=row: getattr(row, name))
        values = {name: get(name) for name in _OWN_ROW}
        values |= {"quantity": str(values["quantity"]), "length": str(values["length"] or 0)}
        found.append({"material": get("material").code, **values})
    return found


def packed_house(house: House) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Of a stored house with its materials."""
    return packed_spec({name: getattr(house, name) for name in SPEC_FIELDS}), packed_rows(own_rows_of(house))


class MissingRow(LookupError):
    """A material or recipe that an option names and the organisation has no more."""


def houses_from(rows: Sequence[OptionHouse], *, organisation: Organisation) -> list[House]:
    """Unsaved houses on no site, with recipes and materials; three queries for any number. Raises MissingRow."""
    codes = {row["material"] for option in rows for row in option.own_rows}
    names = [name for name in SPEC_FIELDS if BY_NAME[name].kind is FieldKind.MATERIAL]
    codes |= {option.spec.get(name) for option in rows for name in names}
    materials = {row.code: row for row in materials_of(organisation=organisation).filter(code__in=codes - {"", None})}
    slugs = {option.spec.get("recipe") for option in rows}
    recipes = {row.slug: row for row in any_recipe_of(organisation=organisation).filter(slug__in=slugs)}
    return [_house(option, organisation, materials, recipes) for option in rows]


def _house(
    option: OptionHouse, organisation: Organisation, materials: Mapping[str, Material], recipes: Mapping[str, Recipe]
) -> House:
    values = {name: _value(name, option.spec[name], materials, recipes) for name in SPEC_FIELDS if name in option.spec}
    house = House(
        organisation=organisation,
        site=Site(organisation=organisation, name="The ground", slug="ground"),
        name=option.name,
        slug=f"house-{option.position}",
        need_date=date.max,
        **values,
    )
    house.typed_rows = [
        HouseOwnRow(
            position=at,
            **{**row, "material": _named(materials, row["material"], "material")},
        )
        for at, row in enumerate(option.own_rows)
    ]
    for row in house.typed_rows:
        row.quantity, row.length = Decimal(row.quantity), Decimal(row.length)
    return house


def _value(name: str, stored: Any, materials: Mapping[str, Material], recipes: Mapping[str, Recipe]) -> Any:
    match BY_NAME[name].kind:
        case FieldKind.MATERIAL:
            return _named(materials, stored, "material") if stored else None
        case FieldKind.RECIPE:
            return _named(recipes, stored, "recipe")
        case FieldKind.LENGTH:
            return Decimal(stored)
        case _:
            return stored


def _named(rows: Mapping[str, Any], name: str, what: str) -> Any:
    if name not in rows:
        words = (
            gettext("The material %(name)s is not there any more. Choose another in the house.")
            if what == "material"
            else gettext("The recipe %(name)s is not there any more. Choose another in the house.")
        )
        raise MissingRow(words % {"name": name})
    return rows[name]
