"""What a house is made of, as a program gets and sends it: the fields of a house, lengths in mm, materials by code."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Any

from ninja import Field, Schema
from pydantic import create_model

from farmbuild.api.values import Mm, mm
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
