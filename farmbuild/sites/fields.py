"""Columns of a house made from its fields in planning: label, help, default and limits stand there.

The models need them, so they cannot stand in the bridge, which needs the models.
"""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from farmbuild.catalogue import columns
from farmbuild.common.fields import LengthField, LengthListField
from farmbuild.planning.house.fields import BY_NAME
from farmbuild.planning.house.own_rows import MAX_NOTE, PER_NAMES, PLACES, Per

__all__ = ["BY_NAME", "MAX_NOTE", "PER_NAMES", "PLACES", "Per", "count", "flag", "length", "lengths", "material"]


def length(name: str) -> LengthField:
    field = BY_NAME[name]
    optional = {} if field.required else {"default": field.default, "blank": True}
    return LengthField(field.label, small=field.small, usual=field.usual, help_text=field.help, **optional)


def lengths(name: str) -> LengthListField:
    return LengthListField(verbose_name=BY_NAME[name].label, help_text=BY_NAME[name].help)


def count(name: str) -> models.PositiveSmallIntegerField:
    field = BY_NAME[name]
    least = [MinValueValidator(field.smallest)] if field.smallest else []
    return models.PositiveSmallIntegerField(
        field.label,
        default=field.default,
        validators=[*least, MaxValueValidator(field.largest)],
        help_text=field.help,
    )


def flag(name: str) -> models.BooleanField:
    return models.BooleanField(BY_NAME[name].label, default=BY_NAME[name].default, help_text=BY_NAME[name].help)


def choice(name: str) -> models.CharField:
    return columns.choice(BY_NAME[name])


def material(name: str) -> models.ForeignKey:
    return columns.material(BY_NAME[name])
