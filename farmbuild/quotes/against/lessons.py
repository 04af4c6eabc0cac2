"""What finished jobs propose for next quotes: each figure with its jobs and its spread, taken by a press alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.utils.translation import gettext

from farmbuild.crew.bridge import work_counts
from farmbuild.crew.models import Kind as Step
from farmbuild.crew.steps.selectors import rates_of
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.against.bridge import Room, Spread, spread_of
from farmbuild.quotes.against.selectors import JobCosts, costs_of, finished_jobs_of
from farmbuild.quotes.models import QuoteRates
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of

#: The latest finished jobs that are learned from.
MOST = 20
_HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class Lesson:
    """``now``: what next quotes reckon with; ``proposed``: the median, as it would be stored. Of a ``step`` minutes of
    one person for each, else percent in a ``column`` of the rates of quotes."""

    key: str
    what: str
    unit: str
    spread: Spread
    now: Decimal | None
    proposed: Decimal
    step: str = ""
    column: str = ""

    @property
    def token(self) -> str:
        """What the page showed."""
        return f"{self.proposed}/{self.spread.jobs}"

    @property
    def taken(self) -> bool:
        return self.now == self.proposed


def lessons_of(*, organisation: Organisation) -> list[Lesson]:
    jobs = [costs_of(job=job) for job in list(finished_jobs_of(organisation=organisation))[:MOST]]
    found = [job for job in jobs if job is not None]
    rates = QuoteRates.objects.filter(organisation=organisation).first()
    return [*_of_steps(organisation, found), *_of_rates(found, rates)]


def _of_steps(organisation: Organisation, jobs: list[JobCosts]) -> Iterator[Lesson]:
    """Minutes for each piece of work, by all people of all hours at that step; of jobs whose houses have counts."""
    minutes: dict[str, list[Decimal]] = defaultdict(list)
    wanted = {house.pk for job in jobs for house in job.houses}
    # With what counting their work reads, in two queries.
    houses = {house.pk: house for house in any_house_of(organisation=organisation).filter(pk__in=wanted)}
    for job in jobs:
        counts = _counts([houses[house.pk] for house in job.houses])
        for row in job.comparison.of(Room.WORK):
            count = counts.get(row.key[1])
            if count and row.used > 0:
                minutes[row.key[1]].append(row.used * 60 / count)
    now = rates_of(organisation=organisation)
    for step in Step:
        if spread := spread_of(minutes[step]):
            rate = now[step]
            current = rate.minutes_each if not rate.minutes_once else None
            proposed = _rounded(spread.median)
            yield Lesson(
                f"step-{step}", str(step.label), gettext("minutes for each"), spread, current, proposed, step=step
            )


def _counts(houses: list[House]) -> dict[str, Decimal]:
    counts: dict[str, Decimal] = defaultdict(Decimal)
    for house in houses:
        units = house.organisation.unit_system
        if not spec_problems(house, units):
            for work in work_counts(house, units):
                counts[str(work.kind)] += work.count
    return counts


def _of_rates(jobs: list[JobCosts], rates: QuoteRates | None) -> Iterator[Lesson]:
    figures: list[tuple[str, str, str, list[Decimal]]] = [
        (
            "waste",
            gettext("Sticks of hoops that were spoilt"),
            "waste",
            [x for job in jobs if (x := _spoilt(job)) is not None],
        ),
        (
            "prices",
            gettext("What materials cost beyond their prices in the quote"),
            "contingency",
            [x for job in jobs if (x := _drift(job)) is not None],
        ),
    ]
    units = {"waste": gettext("percent, for waste"), "contingency": gettext("percent, for contingency")}
    for key, what, column, some in figures:
        if spread := spread_of(some):
            proposed = max(Decimal(0), _rounded(spread.median))
            now: Any = getattr(rates, column) if rates else None
            yield Lesson(key, what, units[column], spread, now, proposed, column=column)


def _spoilt(job: JobCosts) -> Decimal | None:
    """Percent of the sticks that are in hoops; of whole batches with a house of the job."""
    batches = HoopBatch.objects.filter(shares__house__in=[house.pk for house in job.houses]).distinct()
    spoilt, issued = 0, 0
    for batch in batches:
        spoilt += batch.sticks_spoilt
        issued += batch.sticks_issued
    good = issued - spoilt
    return Decimal(100) * spoilt / good if good > 0 else None


def _drift(job: JobCosts) -> Decimal | None:
    """Percent by which what was used cost more than at the standard prices."""
    rows = job.comparison.of(Room.MATERIALS)
    at_standard = sum((row.paid - row.of_price for row in rows if row.foreseen), Decimal(0))
    more = sum((row.of_price for row in rows if row.foreseen), Decimal(0))
    return more * 100 / at_standard if at_standard > 0 else None


def _rounded(figure: Decimal) -> Decimal:
    return figure.quantize(_HUNDREDTH, ROUND_HALF_UP)
