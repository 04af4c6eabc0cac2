"""How many pulls were made on a bender, and when: of every hoop bent, trial and spoilt ones too."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from farmbuild.hoops.batches.bridge import bend_of
from farmbuild.hoops.batches.measured.signals import asking_made_pulls
from farmbuild.hoops.batches.models import BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation


@dataclass(frozen=True)
class Made:
    """So many pulls on a bender, known at that moment; below zero where hoops were counted wrongly.

    ``day``: by the clock of the organisation. ``batch``: of which batch, None for what was typed.
    """

    bender: int
    at: datetime
    day: date
    pulls: int
    batch: int | None = None


def made_on(*, organisation: Organisation, benders: Collection[int]) -> list[Made]:
    """In time. Four queries and those of the rooms above, however many there are.

    A stick that was scrapped outside a trial hoop counts its part of the pulls of a hoop, rounded up.
    """
    zone = zone_of(organisation=organisation)
    batches = HoopBatch.objects.of(organisation).filter(bender__in=benders)
    rows = batches.select_related("recipe__tube", "recipe__sleeve_material", "organisation")
    count = _PullsOfRecipes()
    of = {row.pk: (row.bender_id, row.number, count(row), row.sticks_a_hoop) for row in rows}
    found = []

    def note(batch: int, at: datetime, hoops: int, sticks: int = 0) -> None:
        bender, number, pulls, a_hoop = of[batch]
        found.append(Made(bender, at, _day(at, zone), hoops * pulls - (-sticks * pulls // a_hoop), number))

    if of:
        for row in BentHoops.objects.filter(batch__in=of):
            note(row.batch_id, row.at, row.hoops)
        # The accepted one is among the bent hoops, as the first of them.
        for trial in TrialHoop.objects.filter(batch__in=of, accepted=False):
            note(trial.batch_id, trial.at, 1)
        for spoilt in SpoiltSticks.objects.filter(batch__in=of, trial=None):
            note(spoilt.batch_id, spoilt.at, 0, spoilt.sticks)
    for _, answer in asking_made_pulls.send(Bender, organisation=organisation, benders=benders):
        found += answer
    return sorted(found, key=lambda made: made.at)


def by_bender(made: Iterable[Made]) -> dict[int, list[Made]]:
    found: dict[int, list[Made]] = defaultdict(list)
    for one in made:
        found[one.bender].append(one)
    return found


def pulls_by(made: Iterable[Made], day: date | None = None, *, before: datetime | None = None) -> int:
    """All of them, or those up to the end of a day, or before a moment."""
    return sum(one.pulls for one in made if (day is None or one.day <= day) and (before is None or one.at < before))


class _PullsOfRecipes:
    """The pulls of a hoop, worked out once a recipe and way."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, bool], int] = {}

    def __call__(self, batch: HoopBatch) -> int:
        key = (batch.recipe_id, batch.by_pulls)
        if key not in self._known:
            self._known[key] = bend_of(batch).pulls_in_hoop
        return self._known[key]


def _day(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()
