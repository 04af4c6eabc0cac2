"""Who asks for a bender, who has one when, what each member had, and the rules of the cooperative."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Request:
    """``days`` in a row from ``earliest`` to ``need_by``, both included, on one of ``benders`` (the most wanted first).

    ``member``: the key of whose it is. ``asked``: rises with the time of asking; it and ``ref`` are of one request
    alone.
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
class Standing:
    """What a member had. ``days``: since the season began, with what is booked to come; ``last_season``: in the one
    before; ``open_days``: booked or out, and not over; ``until``: the last day that it had one (None: never)."""

    name: str
    share: int = 1
    days: int = 0
    last_season: int = 0
    open_days: int = 0
    until: date | None = None

    def __post_init__(self) -> None:
        if self.share < 1:
            raise ValueError("A member has a share or more.")


@dataclass(frozen=True)
class Rules:
    """What a cooperative may change.

    ``last_season_percent``: how much a day of the season before counts. ``days_a_week_sooner``: how many days per
    share fewer a member counts as having had for each week that it needs the bender back sooner. ``together``: all
    wishes of a member are looked at as one; else each by itself. ``most_days_open``: nobody is given more days at a
    time (None: as many as can be).
    """

    last_season_percent: int = 50
    days_a_week_sooner: int = 0
    together: bool = True
    most_days_open: int | None = None


def in_turn(requests: Sequence[Request], members: Mapping[str, Standing]) -> list[Request]:
    """The order that requests are served in where days are equal. No name counts in it."""

    def rank(request: Request) -> tuple[date, date, int, str]:
        return request.need_by, members[request.member].until or date.min, request.asked, request.ref

    return sorted(requests, key=rank)
