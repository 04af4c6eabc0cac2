"""What a house is made of, as a program gets and sends it: the fields of a house, lengths in mm, materials by code."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any

from django.core.exceptions import ValidationError
from ninja import Field, Schema
from pydantic import ConfigDict, create_model

from farmbuild.api.values import Count, Mm, Size, mm
from farmbuild.catalogue.selectors import materials_of
from farmbuild.hoops.recipes.selectors import recipes_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import FIELDS, FieldKind
from farmbuild.sites.models import House


def _name(field: Any) -> str:
    return f"{field.name}_mm" if field.kind in (FieldKind.LENGTH, FieldKind.LENGTHS) else field.name


#: What a program calls each field of a house.
NAMES: Mapping[str, str] = {field.name: _name(field) for field in FIELDS}
_KINDS = {field.name: field.kind for field in FIELDS}


def _choices(field: Any) -> type:
    return StrEnum(field.name, {value: value for value, _ in field.choices})


def _type(field: Any) -> Any:
    return {
        FieldKind.LENGTH: Mm,
        FieldKind.LENGTHS: list[Mm],
        FieldKind.COUNT: int,
        FieldKind.FLAG: bool,
        FieldKind.RECIPE: str,
    }.get(field.kind) or (str | None if field.kind is FieldKind.MATERIAL else _choices(field))


SpecOut = create_model(
    "Spec",
    __base__=Schema,
    **{NAMES[field.name]: (_type(field), Field(..., description=field.label)) for field in FIELDS},
)


def spec_of(house: House) -> dict[str, Any]:
    """Materials and recipe are loaded with the house."""
    return {NAMES[field.name]: _value(house, field.name) for field in FIELDS}


def _value(house: House, name: str) -> Any:
    value, kind = getattr(house, name), _KINDS[name]
    if kind is FieldKind.LENGTH:
        return mm(value)
    if kind is FieldKind.LENGTHS:
        return [mm(Decimal(each)) for each in value]
    if kind is FieldKind.MATERIAL:
        return value.code if value else None
    return value.slug if kind is FieldKind.RECIPE else value


def _sent(field: Any) -> Any:
    own = {FieldKind.LENGTH: Size, FieldKind.LENGTHS: Annotated[list[Size], Field(max_length=40)]}
    return own.get(field.kind) or (Count if field.kind is FieldKind.COUNT else _type(field))


class Closed(Schema):
    """A field that is not known is refused, not dropped."""

    model_config = ConfigDict(extra="forbid")


#: Every field may be left out: a new house then has what a house has that says nothing of it, a change leaves it.
SpecIn = create_model(
    "SpecToSend",
    __base__=Closed,
    **{NAMES[field.name]: (_sent(field), Field(None, description=field.label)) for field in FIELDS},
)


def read_spec(sent: Any, *, organisation: Organisation) -> dict[str, Any]:
    """Fields of a house as its services take them. Raises ValidationError at fields as services name them."""
    said = sent.model_dump(exclude_unset=True)
    values = {field.name: said[NAMES[field.name]] for field in FIELDS if NAMES[field.name] in said}
    codes = {value for name, value in values.items() if _KINDS[name] is FieldKind.MATERIAL and value}
    materials = {row.code: row for row in materials_of(organisation=organisation).filter(code__in=codes)}
    found, wrong = {}, {}
    for name, value in values.items():
        kind = _KINDS[name]
        if kind is FieldKind.LENGTH:
            found[name] = Decimal(value)
        elif kind is FieldKind.LENGTHS:
            found[name] = [mm(Decimal(each)) for each in value]
        elif kind is FieldKind.MATERIAL:
            found[name] = materials.get(value) if value else None
            if value and not found[name]:
                wrong[name] = f"There is no material {value}."
        elif kind is FieldKind.RECIPE:
            found[name] = recipes_of(organisation=organisation).filter(slug=value).first()
            if not found[name]:
                wrong[name] = f"There is no recipe {value}."
        else:
            found[name] = str(value) if kind is FieldKind.CHOICE else value
    if wrong:
        raise ValidationError(wrong)
    return found
