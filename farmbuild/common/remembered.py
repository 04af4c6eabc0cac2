"""Drawings that pages of a season show again and again: the same of the same values, drawn once."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import TypeVar

from django.utils.translation import get_language

from farmbuild.measure import current_style

Drawn = TypeVar("Drawn")
#: Of each kind of drawing; a large one takes a score of kilobytes.
MOST = 256


def drawn_once(draw: Callable[..., Drawn]) -> Callable[..., Drawn]:
    """For a pure function of values that never change. Numbers and words in it go by their reader."""

    @lru_cache(maxsize=MOST)
    def kept(_language: str | None, _style: object, *values: object) -> Drawn:
        return draw(*values)

    @wraps(draw)
    def drawn(*values: object) -> Drawn:
        return kept(get_language(), current_style(), *values)

    return drawn
