"""The units in which a person reads and types, where they chose some; files and what is kept go by the organisation's.

In force as the number style is: put there by the middleware for the page of one person, and by nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from farmbuild.measure import UnitSystem

_CHOSEN: ContextVar[str] = ContextVar("chosen_units", default="")


def units_of(organisation: Any) -> UnitSystem:
    """Those of the page that is being made: its reader's, else the organisation's."""
    return UnitSystem(_CHOSEN.get() or organisation.unit_system)


def choose_units(chosen: str) -> None:
    """Put them in force for the rest of the ``use_units`` around; "" for those of the organisation."""
    _CHOSEN.set(chosen)


@contextmanager
def use_units(chosen: str) -> Iterator[None]:
    """Inside it lengths are read and written in these; "" for those of the organisation."""
    token = _CHOSEN.set(chosen)
    try:
        yield
    finally:
        _CHOSEN.reset(token)
