"""How far houses stand and what comes next, as the rooms above say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.sites.signals import asking_next_steps, asking_standings


@dataclass(frozen=True)
class Share:
    """So much of it is recorded as done."""

    done: int = 0
    of: int = 0

    @property
    def whole(self) -> bool:
        return 0 < self.of <= self.done


@dataclass(frozen=True)
class Block:
    """What keeps a house waiting, in about three words, and the page where that is dealt with."""

    words: str
    url: str


@dataclass(frozen=True)
class Standing:
    """What is recorded at a house. ``state``: the furthest of it in words, ``says``: all of it."""

    posts: Share = Share()
    hoops: Share = Share()
    film: Share = Share()
    state: str = ""
    says: str = ""
    done: bool = False
    block: Block | None = None


@dataclass(frozen=True)
class NextStep:
    """Due on ``day``: a sentence, the label of the button that leads there, and the same as a clause."""

    day: date
    says: str
    label: str
    url: str
    clause: str


def standings_of(*, organisation: Organisation, houses: Sequence[House]) -> dict[int, Standing]:
    """By the key of the house; one of which nothing is said is left out."""
    found: dict[int, Standing] = {}
    for _, answer in asking_standings.send(House, organisation=organisation, houses=houses):
        found |= answer
    return found


def next_steps_of(*, organisation: Organisation) -> list[NextStep]:
    """The earliest first; of those on one day, in the order in which the rooms name them."""
    answers = asking_next_steps.send(House, organisation=organisation)
    return sorted((step for _, steps in answers for step in steps), key=lambda step: step.day)
