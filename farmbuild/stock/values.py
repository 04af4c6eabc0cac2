"""What pieces of a lot cost together: rounded half up to coins lot by lot, so that every sum of lots adds up.

Worked out in whole steps of a ten-thousandth, in which costs are kept: SQLite has no exact decimals.
"""

from __future__ import annotations

from decimal import Decimal

from django.db.models import BigIntegerField, DecimalField, Expression, ExpressionWrapper, F, FloatField, Value
from django.db.models.functions import Cast, Round

from farmbuild.orgs.models import Organisation
from farmbuild.stock.bridge import from_minor, places, round_money
from farmbuild.stock.models import Lot

#: Steps in one of the currency.
_STEPS = 10**4


def worth_of(lot: Lot, *, organisation: Organisation, pieces: int | None = None) -> Decimal:
    """What ``pieces`` of a lot cost, or all on hand."""
    return round_money(lot.unit_cost * (lot.on_hand if pieces is None else pieces), organisation.currency)


def coins_of(pieces: str, *, organisation: Organisation) -> Expression:
    """In SQL, whole coins that ``pieces`` of a lot cost; an amount by ``amount_of``."""
    steps = Cast(Round(ExpressionWrapper(F("unit_cost") * _STEPS, FloatField())), BigIntegerField())
    coin = _STEPS // 10 ** places(organisation.currency)
    return ExpressionWrapper((F(pieces) * steps + coin // 2) / coin, BigIntegerField())


def value_of(pieces: str, *, organisation: Organisation) -> Expression:
    """The same as an amount of money."""
    one = Value(Decimal(1).scaleb(-places(organisation.currency)), DecimalField(max_digits=9, decimal_places=4))
    return ExpressionWrapper(
        coins_of(pieces, organisation=organisation) * one, DecimalField(max_digits=30, decimal_places=4)
    )


def amount_of(coins: int | None, *, organisation: Organisation) -> Decimal:
    return from_minor(coins or 0, organisation.currency)
