"""What pieces of a lot cost together: its stored value, or the part of it that so many pieces are, half up to coins.

Worked out in whole coins: SQLite has no exact decimals.
"""

from __future__ import annotations

from decimal import Decimal

from django.db.models import BigIntegerField, Case, DecimalField, Expression, ExpressionWrapper, F, Value, When
from django.db.models.functions import Cast

from farmbuild.orgs.models import Organisation
from farmbuild.stock.bridge import from_minor, places, round_money
from farmbuild.stock.models import Lot

#: Steps in one of the currency, in which values are kept.
_STEPS = 10**3


def worth_of(lot: Lot, *, organisation: Organisation, pieces: int | None = None) -> Decimal:
    """What ``pieces`` of a lot are worth, or all on hand."""
    if pieces is None or pieces == lot.on_hand:
        return round_money(lot.value, organisation.currency)
    return round_money(lot.value * pieces / lot.on_hand, organisation.currency)


def coins_of(pieces: str, *, organisation: Organisation) -> Expression:
    """In SQL, whole coins that ``pieces`` of a lot are worth; an amount by ``amount_of``."""
    coins = ExpressionWrapper(
        Cast(F("value"), BigIntegerField()) / (_STEPS // 10 ** places(organisation.currency)), BigIntegerField()
    )
    if pieces == "on_hand":
        return coins
    part = (coins * F(pieces) * 2 + F("on_hand")) / (F("on_hand") * 2)
    return Case(
        When(on_hand__gt=0, then=ExpressionWrapper(part, BigIntegerField())),
        default=Value(0),
        output_field=BigIntegerField(),
    )


def value_of(pieces: str, *, organisation: Organisation) -> Expression:
    """The same as an amount of money."""
    one = Value(Decimal(1).scaleb(-places(organisation.currency)), DecimalField(max_digits=9, decimal_places=4))
    return ExpressionWrapper(
        coins_of(pieces, organisation=organisation) * one, DecimalField(max_digits=30, decimal_places=4)
    )


def amount_of(coins: int | None, *, organisation: Organisation) -> Decimal:
    return from_minor(coins or 0, organisation.currency)
