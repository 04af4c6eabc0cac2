"""Columns that several of these tables have."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy


def money(label: str, *, empty: bool = False) -> models.DecimalField:
    """An amount in coins of the organisation's currency; ``empty``: or none."""
    return models.DecimalField(label, max_digits=16, decimal_places=3, null=empty, blank=empty)


def price(label: str, help_text: str = "") -> models.DecimalField:
    """What one costs: a piece, an hour, a day or a trip."""
    return models.DecimalField(
        label, max_digits=14, decimal_places=4, default=Decimal(0), help_text=help_text, validators=[at_least_nothing()]
    )


def percent(label: str, help_text: str = "", *, most: Sequence[MaxValueValidator] = ()) -> models.DecimalField:
    return models.DecimalField(
        label,
        max_digits=6,
        decimal_places=3,
        default=Decimal(0),
        help_text=help_text,
        validators=[at_least_nothing(), *most],
    )


def at_least_nothing() -> MinValueValidator:
    return MinValueValidator(Decimal(0), gettext_lazy("Type 0 or more."))


def who() -> models.ForeignKey:
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )


def moment() -> models.DateTimeField:
    return models.DateTimeField(null=True, blank=True, editable=False)


def checksum() -> models.CharField:
    """SHA-256 of a file in hexadecimal (FIPS 180-4)."""
    return models.CharField(max_length=64, editable=False)
