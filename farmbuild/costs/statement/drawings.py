"""Costs as bars, each as long as its amount, with the amount in words over it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.utils.safestring import SafeString

from farmbuild.common.drawing import Drawing
from farmbuild.measure import format_money

_WIDE, _ROW, _BAR = 280.0, 46.0, 14.0
#: A bar that stands for something is seen.
_LEAST = 2.0


def bars(amounts: Sequence[tuple[str, Decimal]], *, currency: str, title: str) -> SafeString:
    """(words, amount), the longest bar as wide as the drawing; below zero none is drawn."""
    said = [f"{words}: {format_money(amount, currency)}" for words, amount in amounts]
    drawing = Drawing(_WIDE, _ROW * len(amounts), title, f"{'; '.join(said)}.", scale=1.0, tallest=10_000)
    most = max((amount for _, amount in amounts), default=Decimal(0))
    for row, (words, amount) in enumerate(amounts):
        low = _ROW * (len(amounts) - row - 1)
        drawing.text(0, low + _BAR + 8, words, anchor="start")
        drawing.text(_WIDE, low + _BAR + 8, format_money(amount, currency), anchor="end")
        if amount > 0:
            drawing.rect(0, low, max(_LEAST, float(amount / most) * _WIDE), _BAR, "cut fill")
        drawing.line(0, low, _WIDE, low, "thin")
    return drawing.svg()
