"""Columns of what is built, made from a field of planning: the same for houses and for recipes."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.models import Material


def choice(field: Any) -> models.CharField:
    return models.CharField(
        field.label,
        max_length=20,
        choices=[(value, gettext_lazy(words)) for value, words in field.choices],
        default=field.default.value,
        help_text=field.help,
    )


def material(field: Any) -> models.ForeignKey:
    """One that it may do without."""
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
