"""Worked numbers as pages list them, with parts/figures.html."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Figure:
    """One worked number: a length in mm or plain text, and how it was worked out in words with the numbers in."""

    label: str
    working: str
    length: Decimal | None = None
    text: str = ""
    #: By which a drawing leads to its working.
    key: str = ""
