"""Whether each field of a house, or of a recipe, is by itself what it may be; what that is stands in ``fields.py``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from farmbuild.measure import UnitSystem, format_length, smaller_unit
from farmbuild.planning.house.context import SpecProblem
from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS, FieldKind, SpecField
from farmbuild.planning.house.spec import HouseSpec, Recipe
from farmbuild.planning.materials import Material

#: Sizes are looked at first, then counts, then materials.
_PHASES = ((FieldKind.LENGTH, FieldKind.LENGTHS), (FieldKind.COUNT, FieldKind.CHOICE), (FieldKind.MATERIAL,))


@dataclass(frozen=True)
class _Limits:
    materials: Mapping[str, Material]
    units: UnitSystem

    def messages(self, field: SpecField, value: Any, may_be_none: bool) -> Iterator[str]:
        match field.kind:
            case FieldKind.LENGTH:
                yield from self._length(field, value, may_be_none)
            case FieldKind.LENGTHS:
                for length in value:
                    yield from self._length(field, length, False)
            case FieldKind.COUNT:
                if not field.smallest <= value <= field.largest:
                    yield f"The {field.called} is {value}. Type {field.smallest} to {field.largest}."
            case FieldKind.CHOICE:
                if value not in dict(field.choices):
                    yield f"{str(value)!r} is none of the choices. Choose one of: {', '.join(dict(field.choices))}."
            case FieldKind.MATERIAL:
                yield from self._material(field, value, may_be_none)

    def _length(self, field: SpecField, value: Decimal, may_be_none: bool) -> Iterator[str]:
        if not value.is_finite():
            yield f"The {field.called} is not a length. Type one such as {self._example()}."
        elif value < 0:
            yield f"The {field.called} is {self._say(value)}. Type 0 or more."
        elif value == 0:
            if not may_be_none:
                yield f"The {field.called} is 0. Type a length such as {self._example()}."
        elif value < field.smallest:
            yield f"The {field.called} is {self._say(value)}. Type at least {self._say(Decimal(field.smallest))}."
        elif value > field.largest:
            largest = Decimal(field.largest)
            asked = smaller_unit(value, largest, self.units) or " Type less."
            yield f"The {field.called} is above {self._say(largest)}.{asked}"

    def _material(self, field: SpecField, code: str, may_be_none: bool) -> Iterator[str]:
        if not code:
            if not may_be_none:
                yield f"The house has {field.called}, but of no material. Choose one, or {field.otherwise}."
        elif code not in self.materials:
            yield f"There is no material with the code {code!r}."
        elif (found := self.materials[code]).kind not in field.materials:
            allowed = " or ".join(kind.value for kind in field.materials)
            yield f"{found.name} is {found.kind.value}; {field.called} are made of {allowed}. Choose another."

    def _say(self, length: Decimal) -> str:
        return format_length(length, self.units)

    def _example(self) -> str:
        return "4' 6\"" if self.units is UnitSystem.IMPERIAL else "1370 mm"

    def of_recipe(self, recipe: Recipe, kinds: tuple[FieldKind, ...]) -> Iterator[SpecProblem]:
        for field in RECIPE_FIELDS:
            if field.kind in kinds:
                for message in self.messages(field, getattr(recipe, field.name), field.may_be_none()):
                    yield SpecProblem("recipe", message, field.name)


def recipe_limits(recipe: Recipe, materials: Mapping[str, Material], units: UnitSystem) -> list[SpecProblem]:
    """What is wrong with the fields of a recipe, each by itself."""
    limits = _Limits(materials, units)
    return [problem for kinds in _PHASES for problem in limits.of_recipe(recipe, kinds)]


def spec_limits(spec: HouseSpec, materials: Mapping[str, Material], units: UnitSystem) -> list[SpecProblem]:
    """What is wrong with the fields of a spec and of its recipe, each by itself."""
    limits = _Limits(materials, units)
    problems: list[SpecProblem] = []
    for kinds in _PHASES:
        for field in FIELDS:
            if field.kind is FieldKind.RECIPE:
                problems += limits.of_recipe(spec.recipe, kinds)
            elif field.kind in kinds:
                value = getattr(spec, field.name)
                messages = limits.messages(field, value, field.may_be_none(spec))
                problems += [SpecProblem(field.name, message) for message in messages]
        if FieldKind.COUNT in kinds:
            problems += _uneven(spec)
    return problems


def _uneven(spec: HouseSpec) -> Iterator[SpecProblem]:
    for field in FIELDS:
        if field.even and (count := getattr(spec, field.name)) % 2:
            label = field.label[:1].upper() + field.label[1:]
            yield SpecProblem(
                field.name,
                f"{label} are counted over both sides, so {count} cannot be shared evenly."
                f" Type {max(0, count - 1)} or {count + 1}.",
            )
