"""Columns of a recipe made from its fields in planning: label, help, default and limits stand there.

The models need them, so they cannot stand in the bridge, which needs the models.
"""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from farmbuild.catalogue.models import Material
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
    field = RECIPE_BY_NAME[name]
    return models.CharField(
        field.label, max_length=20, choices=field.choices, default=field.default.value, help_text=field.help
    )


def material(name: str) -> models.ForeignKey:
    """One that a recipe may do without."""
    field = RECIPE_BY_NAME[name]
    return models.ForeignKey(
        Material,
        models.PROTECT,
        verbose_name=field.label,
        null=True,
        blank=True,
        related_name="+",
        limit_choices_to={"kind__in": [kind.value for kind in field.materials]},
        help_text=field.help,
    )
