"""Whether each field of a house, or of a recipe, is by itself what it may be; what that is stands in ``fields.py``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from farmbuild.measure import UnitSystem, format_length, join_words, smaller_unit
from farmbuild.measure.speech import sentence
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
                    yield sentence(
                        "The %(called)s is %(value)s. Type %(smallest)s to %(largest)s.",
                        called=field.said,
                        value=value,
                        smallest=field.smallest,
                        largest=field.largest,
                    )
            case FieldKind.CHOICE:
                if value not in dict(field.choices):
                    yield sentence(
                        "'%(value)s' is none of the choices. Choose one of: %(choices)s.",
                        value=value,
                        choices=", ".join(dict(field.choices)),
                    )
            case FieldKind.MATERIAL:
                yield from self._material(field, value, may_be_none)

    def _length(self, field: SpecField, value: Decimal, may_be_none: bool) -> Iterator[str]:
        if not value.is_finite():
            yield sentence(
                "The %(called)s is not a length. Type one such as %(example)s.",
                called=field.said,
                example=self._example(),
            )
        elif value < 0:
            yield sentence("The %(called)s is %(value)s. Type 0 or more.", called=field.said, value=self._say(value))
        elif value == 0:
            if not may_be_none:
                yield sentence(
                    "The %(called)s is 0. Type a length such as %(example)s.",
                    called=field.said,
                    example=self._example(),
                )
        elif value < field.smallest:
            yield sentence(
                "The %(called)s is %(value)s. Type at least %(smallest)s.",
                called=field.said,
                value=self._say(value),
                smallest=self._say(Decimal(field.smallest)),
            )
        elif value > field.largest:
            largest = Decimal(field.largest)
            asked = smaller_unit(value, largest, self.units) or " Type less."
            yield sentence(
                "The %(called)s is above %(largest)s.%(asked)s",
                called=field.said,
                largest=self._say(largest),
                asked=asked,
            )

    def _material(self, field: SpecField, code: str, may_be_none: bool) -> Iterator[str]:
        if not code:
            if not may_be_none:
                yield sentence(
                    "The house has %(called)s, but of no material. Choose one, or %(otherwise)s.",
                    called=field.said,
                    otherwise=sentence(field.otherwise),
                )
        elif code not in self.materials:
            yield sentence("There is no material with the code '%(code)s'.", code=code)
        elif (found := self.materials[code]).kind not in field.materials:
            allowed = join_words((sentence(kind.value) for kind in field.materials), "or")
            yield sentence(
                "%(found)s is %(kind)s; %(called)s are made of %(allowed)s. Choose another.",
                found=found.name,
                kind=sentence(found.kind.value),
                called=field.said,
                allowed=allowed,
            )

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
            yield SpecProblem(
                field.name,
                sentence(
                    "%(label)s are counted over both sides, so %(count)s cannot be shared evenly. Type "
                    "%(value)s or %(count_2)s.",
                    label=sentence(field.column),
                    count=count,
                    value=max(0, count - 1),
                    count_2=count + 1,
                ),
            )
