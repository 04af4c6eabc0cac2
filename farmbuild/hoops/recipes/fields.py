"""Columns of a recipe made from its fields in planning: label, help, default and limits stand there.

The models need them, so they cannot stand in the bridge, which needs the models.
"""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from farmbuild.catalogue import columns
from farmbuild.common.fields import LengthField
from farmbuild.planning.house.fields import RECIPE_BY_NAME


def length(name: str) -> LengthField:
    field = RECIPE_BY_NAME[name]
    default = {} if field.default is None else {"default": field.default}
    return LengthField(field.label, small=field.small, usual=field.usual, help_text=field.help, **default)


def count(name: str) -> models.PositiveSmallIntegerField:
    field = RECIPE_BY_NAME[name]
    limits = [MinValueValidator(field.smallest), MaxValueValidator(field.largest)]
    return models.PositiveSmallIntegerField(field.label, default=field.default, validators=limits, help_text=field.help)


def choice(name: str) -> models.CharField:
    return columns.choice(RECIPE_BY_NAME[name])


def material(name: str) -> models.ForeignKey:
    return columns.material(RECIPE_BY_NAME[name])
