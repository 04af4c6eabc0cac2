"""How a bender stands: its pulls, its next service, and whether it drifts. All of it is worked out when it is asked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal

from farmbuild.catalogue.models import Material
from farmbuild.hoops.batches.measured.bridge import Reading, Trend, radius_at_gap, trend_of
from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.hoops.batches.measured.pulls import Made, by_bender, made_on, pulls_by
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import ARCS
from farmbuild.measure.usual import DRIFT_LIMIT
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation

#: A service is due soon when so many days or this part of its pulls are left (common practice, no source).
SOON_DAYS, SOON_PART = 30, 10
#: Typed lengths of pipe nearer than this are one kind of hoop, mm.
_NEAR = 100


@dataclass(frozen=True)
class Hoop:
    """One that was measured. ``radius``: mm, what the bender made. ``pulls``: made on it before, or by the end of its
    day. ``trial``, or ``typed`` where it was measured elsewhere.
    """

    bender: int
    day: date
    at: datetime
    tube: Material
    radius: float
    alike: tuple[object, ...]
    pulls: int = 0
    trial: TrialHoop | None = None
    typed: MeasuredHoop | None = None

    @property
    def reading(self) -> Reading:
        return Reading(self.pulls, self.radius, self.alike)

    @property
    def by_day(self) -> Reading:
        return Reading(self.day.toordinal(), self.radius, self.alike)


@dataclass(frozen=True)
class TubeTrend:
    """Of the hoops of one tube since the last service. ``trend`` over pulls, or over days where no pulls were made
    between; None where too few compare. ``righted``: the newest is an accepted trial hoop that is right again."""

    tube: Material
    hoops: tuple[Hoop, ...]
    limit: Decimal
    trend: Trend | None
    by_days: Trend | None
    over_pulls: bool
    righted: bool
    #: The key of the newest accepted trial hoop that was right, 0 for none: what is found after it is found anew.
    right_since: int

    @property
    def changed(self) -> bool:
        """Hoops of one day tell of whoever bent them: a bender drifts over several."""
        days = {hoop.day for hoop in self.hoops}
        return self.trend is not None and len(days) > 1 and self.trend.exceeds(float(self.limit))

    @property
    def drifts(self) -> bool:
        return self.changed and not self.righted


@dataclass(frozen=True)
class Due:
    """When the next service is due: ``left`` pulls from now (below zero: over), by ``day``, which may have ``passed``;
    None where no rule says."""

    left: int | None
    day: date | None
    passed: bool
    soon: bool

    @property
    def overdue(self) -> bool:
        return self.passed or (self.left is not None and self.left < 0)


@dataclass(frozen=True)
class Wear:
    """``since_service``: pulls since the last one, or since new. ``services`` that stand, the latest first.

    ``accepted``: the trial hoop that was accepted last on it.
    """

    bender: Bender
    pulls: int
    since_service: int
    services: tuple[ServiceRecord, ...]
    due: Due
    hoops: tuple[Hoop, ...]
    tubes: tuple[TubeTrend, ...]
    accepted: TrialHoop | None
    made: tuple[Made, ...] = field(default=(), repr=False)

    @property
    def last(self) -> ServiceRecord | None:
        return self.services[0] if self.services else None

    @property
    def drifting(self) -> list[TubeTrend]:
        return [tube for tube in self.tubes if tube.drifts]


def wear_of(*, bender: Bender) -> Wear:
    return wear_by_bender(organisation=bender.organisation, benders=[bender])[bender.pk]


def wear_by_bender(*, organisation: Organisation, benders: Sequence[Bender]) -> dict[int, Wear]:
    """By key, for today. As many queries for all of them as for one."""
    keys = [bender.pk for bender in benders]
    if not keys:
        return {}
    today = today_of(organisation=organisation)
    made = by_bender(made_on(organisation=organisation, benders=keys))
    hoops = _hoops(organisation, keys)
    services: dict[int, list[ServiceRecord]] = defaultdict(list)
    for row in ServiceRecord.objects.of(organisation).standing().filter(bender__in=keys).order_by("-day", "-pk"):
        services[row.bender_id].append(row)
    return {
        bender.pk: _wear(organisation, bender, made[bender.pk], hoops[bender.pk], services[bender.pk], today)
        for bender in benders
    }


def _hoops(organisation: Organisation, keys: Sequence[int]) -> dict[int, list[Hoop]]:
    zone = zone_of(organisation=organisation)
    found: dict[int, list[Hoop]] = defaultdict(list)
    trials = TrialHoop.objects.filter(batch__bender__in=keys, batch__organisation=organisation, verdict__in=ARCS)
    for trial in trials.select_related("batch__recipe__tube", "batch__recipe__sleeve_material", "accepted_by"):
        recipe, bender = trial.batch.recipe, trial.batch.bender_id
        alike = ("trial", recipe.pk, trial.batch.by_pulls)
        hoop = Hoop(
            bender, trial.at.astimezone(zone).date(), trial.at, recipe.tube, radius_at_gap(trial), alike, trial=trial
        )
        found[bender].append(hoop)
    typed = MeasuredHoop.objects.of(organisation).standing().filter(bender__in=keys)
    for row in typed.select_related("tube", "member"):
        alike = ("typed", row.tube_id, round(row.pipe / _NEAR))
        found[row.bender_id].append(Hoop(row.bender_id, row.day, row.at, row.tube, float(row.radius), alike, typed=row))
    return found


def _wear(
    organisation: Organisation,
    bender: Bender,
    made: Sequence[Made],
    hoops: Sequence[Hoop],
    services: Sequence[ServiceRecord],
    today: date,
) -> Wear:
    pulls = (bender.earlier_pulls or 0) + pulls_by(made)
    last = services[0] if services else None
    since = max(0, pulls - last.pulls) if last else pulls
    counted = sorted((_counted(hoop, bender, made) for hoop in hoops), key=lambda hoop: (hoop.day, hoop.at))
    limit = bender.drift_limit or DRIFT_LIMIT.of(organisation.unit_system)
    after = [hoop for hoop in counted if last is None or (hoop.day, hoop.at) > (last.day, last.at)]
    tubes: dict[int, list[Hoop]] = defaultdict(list)
    for hoop in after:
        tubes[hoop.tube.pk].append(hoop)
    accepted = [hoop.trial for hoop in counted if hoop.trial and hoop.trial.accepted]
    return Wear(
        bender,
        pulls,
        since,
        tuple(services),
        due_of(bender, since, last.day if last else _first_day(made), today),
        tuple(counted),
        tuple(_tube(rows, limit) for rows in tubes.values()),
        accepted[-1] if accepted else None,
        tuple(made),
    )


def _counted(hoop: Hoop, bender: Bender, made: Sequence[Made]) -> Hoop:
    before = hoop.at if hoop.trial else None
    return replace(hoop, pulls=(bender.earlier_pulls or 0) + pulls_by(made, hoop.day, before=before))


def _tube(rows: Sequence[Hoop], limit: Decimal) -> TubeTrend:
    over_pulls = True
    trend, by_day = trend_of([hoop.reading for hoop in rows]), trend_of([hoop.by_day for hoop in rows])
    if trend is None:
        trend, over_pulls = by_day, False
    right = [hoop for hoop in rows if trend and _right(hoop, trend, limit, over_pulls)]
    newest = rows[-1]
    return TubeTrend(
        newest.tube,
        tuple(rows),
        limit,
        trend,
        by_day,
        over_pulls,
        righted=bool(right) and right[-1] is newest,
        right_since=right[-1].trial.pk if right and right[-1].trial else 0,
    )


def _right(hoop: Hoop, trend: Trend, limit: Decimal, over_pulls: bool) -> bool:
    """An accepted trial hoop that stands as the trend began."""
    reading = hoop.reading if over_pulls else hoop.by_day
    accepted = hoop.trial is not None and hoop.trial.accepted
    return accepted and hoop.alike in trend.levels and abs(trend.off(reading)) <= float(limit)


def _first_day(made: Iterable[Made]) -> date | None:
    return next((one.day for one in made), None)


def due_of(bender: Bender, since: int, begins: date | None, today: date) -> Due:
    """``since``: pulls since ``begins``, the last service or the first pull; whichever comes first counts."""
    left = bender.service_pulls - since if bender.service_pulls else None
    day = months_after(begins, bender.service_months) if begins and bender.service_months else None
    near = left is not None and left * SOON_PART <= bender.service_pulls
    near = near or (day is not None and (day - today).days <= SOON_DAYS)
    due = Due(left, day, passed=day is not None and day < today, soon=near)
    return replace(due, soon=near and not due.overdue)


def months_after(day: date, months: int) -> date:
    """The same day of a later month, or its last where that is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month + 1, last)
        except ValueError:
            continue
    raise ValueError(f"{months} months after {day} there is no day.")
