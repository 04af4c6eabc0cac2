"""Who asks for a bender, who has one when, and whose turn it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Request:
    """``days`` in a row from ``earliest`` to ``need_by``, both included, on one of ``benders`` (the most wanted first).

    ``asked``: rises with the time of asking; it and ``ref`` are of one request alone.
    """

    ref: str
    member: str
    days: int
    earliest: date
    need_by: date
    benders: tuple[str, ...]
    asked: int = 0

    def __post_init__(self) -> None:
        if self.days < 1:
            raise ValueError("A request is for a day or more.")


@dataclass(frozen=True)
class Taken:
    """``who`` has ``bender`` from ``first`` to ``last``, both included."""

    bender: str
    first: date
    last: date
    who: str


@dataclass(frozen=True)
class Turn:
    """What a member had before: the last day of the latest booking (None: never) and the days of all of them."""

    last: date | None = None
    days: int = 0


def in_turn(requests: Sequence[Request], turns: Mapping[str, Turn]) -> list[Request]:
    """The order that requests are served in where they cannot all be."""

    def rank(request: Request) -> tuple[date, date, int, int, str]:
        turn = turns.get(request.member, Turn())
        return request.need_by, turn.last or date.min, turn.days, request.asked, request.ref

    return sorted(requests, key=rank)
