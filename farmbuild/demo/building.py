"""The invented crews at work: each step pressed as it was done, its materials taken, its hoops bent and measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any
from uuid import uuid4

from farmbuild.crew.actuals.services import DONE, NOTE, START, STOP, record
from farmbuild.crew.models import Actual, Crew, Kind, Person, Task
from farmbuild.crew.people.selectors import people_of
from farmbuild.crew.problems.services import resolve
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.demo.bridge import read_length
from farmbuild.demo.diary import CrewTime, Diary, Span
from farmbuild.demo.materials import take_for
from farmbuild.hoops.batches import services as batches
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.hoops.fits.rows import Reading
from farmbuild.hoops.fits.services import save_fit
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.bridge import shape_of
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot, Reservation

#: Work is noted by the five minutes.
_STEP = 5


@dataclass(frozen=True)
class Builders:
    """Who builds which houses, by the rows of the demo file."""

    organisation: Organisation
    user: User
    houses: Mapping[str, House]
    diary: Diary
    rows: Mapping[str, Any]

    @property
    def who(self) -> dict[str, Any]:
        return {"organisation": self.organisation, "user": self.user}

    def task(self, house: str, kind: str) -> Task:
        return tasks_of(organisation=self.organisation).get(house=self.houses[house], kind=kind)

    def first_of(self, crew: Crew | str) -> Person:
        return people_of(organisation=self.organisation).filter(crew__name=str(crew)).order_by("pk")[0]

    # Steps that are done

    def minutes_of(self, stints: Sequence[Mapping[str, Any]]) -> int:
        worked = sum(self._minutes(row["house"], *work) for row in stints for work in row["work"].items())
        return worked + sum(row.get("then_idle", 0) for row in stints)

    def _minutes(self, house: str, kind: str, share: float) -> int:
        return round(self.task(house, kind).minutes * share / _STEP) * _STEP

    def build(self, crew: str, stints: Sequence[Mapping[str, Any]], hours: CrewTime) -> None:
        """Write into the diary what the crew did step by step."""
        person = self.first_of(crew)
        for row in stints:
            for kind, share in row["work"].items():
                spans = hours.take(self._minutes(row["house"], kind, share))
                self._step(person, row["house"], kind, spans)
            hours.take(row.get("then_idle", 0))

    def _step(self, person: Person, house: str, kind: str, spans: Sequence[Span]) -> None:
        task, last = self.task(house, kind), len(spans) - 1
        total = sum(((ends - begins) for begins, ends in spans), timedelta())
        left, at = task.count, self.diary.at
        for n, (begins, ends) in enumerate(spans):
            at(begins, partial(self.press, person, house, kind, START, begins))
            if n == 0:
                at(begins, partial(self._begin, person, house, kind, begins))
            done = min(left, int(task.count * ((ends - begins) / total)))
            left -= done
            if kind == Kind.TRIAL:
                done = 0
            elif kind == Kind.BEND:
                at(ends, partial(self._bend, house, (n + 1) / len(spans)))
                done = 0
            if n < last or kind == Kind.BEND:
                at(ends, partial(self.press, person, house, kind, STOP, ends, done=done))
            elif kind == Kind.TRIAL:
                # Done with its acceptance.
                at(ends, partial(self._accept, house))
            else:
                at(ends, partial(self._end, house, kind))
                at(ends, partial(self.press, person, house, kind, DONE, ends))
            if kind == Kind.TRIAL and n == last:
                self.try_hoops(house, begins, ends)

    def press(self, person: Person, house: str, kind: str, what: str, at: datetime, **more: Any) -> Actual:
        task = self.task(house, kind)
        given = {"people": task.people} | more
        return record(**self.who, key=uuid4(), task=task, person=person, what=what, at=at, **given)

    def _begin(self, person: Person, house: str, kind: str, at: datetime) -> None:
        take_for(**self.who, house=self.houses[house], kind=kind)
        if self._went_wrong(house, kind):
            row = self.rows["resolved"]
            self.press(person, house, kind, NOTE, at, people=row["people"], problem=row["problem"])

    def _end(self, house: str, kind: str) -> None:
        if kind == Kind.SIGHT:
            self.fit(house)
        if self._went_wrong(house, kind):
            actual = Actual.objects.of(self.organisation).get(problem=self.rows["resolved"]["problem"])
            resolve(**self.who, actual=actual, how=self.rows["resolved"]["how"])

    def _went_wrong(self, house: str, kind: str) -> bool:
        return (house, kind) == (self.rows["resolved"]["house"], self.rows["resolved"]["kind"])

    # Hoops

    def begin_batch(self, house: str) -> None:
        """A batch for the hoops of the house, and the sticks of its first."""
        row, built = self.rows["batches"][house], self.houses[house]
        hoops = len(shape_of(built).hoop_positions)
        batch = batches.create_batch(
            **self.who,
            recipe=built.recipe,
            bender=benders_of(organisation=self.organisation).get(slug=row["bender"]),
            quantity=hoops,
            shares={built: hoops},
            data={"post_span": built.post_span, "spring_in": read_length(row["spring_in"])},
        )
        self._issue(batch, batch.sticks_a_hoop)

    def batch_of(self, house: str) -> HoopBatch:
        return HoopBatch.objects.of(self.organisation).get(shares__house=self.houses[house])

    def _issue(self, batch: HoopBatch, sticks: int, *, instead: bool = False) -> None:
        """What its house holds for hoops goes first; ``instead`` of spoilt ones, sticks that nobody holds."""
        held = Reservation.objects.filter(house__hoop_shares__batch=batch, purpose=batches.HOOPS, lot__isnull=False)
        there = [(row.lot, row.quantity) for row in held.select_related("lot").order_by("pk")]
        tube, length = batch.recipe.tube_id, batch.recipe.stick_length
        lots = Lot.objects.of(self.organisation).filter(material=tube, length=length, offcut=False).order_by("-pk")
        free = [(lot, lot.free) for lot in lots]
        for lot, most in free if instead else there:
            if some := min(sticks, most):
                batches.issue_sticks(**self.who, batch=batch, lot=lot, quantity=some)
                sticks -= some

    def try_hoops(self, house: str, begins: datetime, ends: datetime) -> None:
        """Trial hoops in turn, spread over the time of the step."""
        trials = self.rows["batches"][house]["trials"]
        self.diary.at(begins, partial(self.begin_batch, house))
        for n, row in enumerate(trials, 1):
            self.diary.at(begins + (ends - begins) * n / (len(trials) + 1), partial(self.measure, house, row))

    def measure(self, house: str, row: Mapping[str, str]) -> None:
        """A hoop that is spoilt gives the gap of the next, and its sticks are scrap."""
        batch = self.batch_of(house)
        sizes = {name: read_length(row[name]) for name in ("free_span", "rise", "last_gap", "twist") if name in row}
        trial = batches.record_trial(**self.who, batch=batch, data=sizes)
        if reason := row.get("spoilt"):
            sticks = batch.sticks_a_hoop
            batches.write_off_sticks(**self.who, batch=batch, quantity=sticks, reason=reason, trial=trial)
            batches.correct_gap(**self.who, batch=batch, trial=trial)
            self._issue(self.batch_of(house), sticks, instead=True)

    def _accept(self, house: str) -> None:
        batch = self.batch_of(house)
        batches.accept_trial(**self.who, batch=batch, trial=batch.trials.order_by("-attempt").first())

    def _bend(self, house: str, share: float) -> None:
        batch = self.batch_of(house)
        hoops = int(batch.quantity * share) - batch.hoops_bent
        if hoops > 0:
            self._issue(batch, hoops * batch.sticks_a_hoop)
            batches.record_bent(**self.who, batch=batch, hoops=hoops)
        if share == 1:
            batches.finish_batch(**self.who, batch=batch)

    # Ridges

    def fit(self, house: str) -> None:
        """Hoops in turn from the front; those behind them are not measured yet."""
        sizes = self.rows["sighting"]
        save_fit(
            **self.who,
            house=self.houses[house],
            readings=[
                Reading(
                    hoop=hoop,
                    ridge_height=read_length(row["ridge"]),
                    post_span=read_length(row["span"]),
                    down=read_length(row["down"]) or Decimal(0),
                    up=read_length(row["up"]) or Decimal(0),
                )
                for hoop, row in enumerate(self.rows["fits"][house], 1)
            ],
            tolerance=read_length(sizes["tolerance"]) or Decimal(0),
            span_tolerance=read_length(sizes["span_tolerance"]) or Decimal(0),
            slope=Decimal(sizes["slope"]),
        )
