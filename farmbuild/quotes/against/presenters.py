"""What the page of cost against quote shows, gathered once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.speaking import said
from farmbuild.measure import format_decimal
from farmbuild.quotes.against.bridge import Row
from farmbuild.quotes.against.drawings import cost_chart
from farmbuild.quotes.against.lessons import Lesson
from farmbuild.quotes.against.selectors import JobCosts, costs_of, houses_of
from farmbuild.quotes.against.words import CAUSES, answer, percent
from farmbuild.quotes.models import Job
from farmbuild.sites.models import House

#: Of one that is used by part, such as a stick for two houses.
_THOUSANDTH = Decimal("0.001")


@dataclass(frozen=True)
class CauseRow:
    what: str
    amount: Decimal


@dataclass(frozen=True)
class LineRow:
    name: str
    foreseen: Decimal
    used: Decimal
    foreseen_amount: Decimal
    paid: Decimal
    difference: Decimal
    of_quantity: Decimal
    of_price: Decimal
    note: str


@dataclass(frozen=True)
class PlaceRow:
    name: str
    quoted: Decimal
    changed: Decimal
    committed: Decimal
    actual: Decimal
    to_come: Decimal
    at_completion: Decimal


class Against:
    """``today``: by the clock in force."""

    def __init__(self, costs: JobCosts, today: date) -> None:
        self.costs, self.today = costs, today

    @property
    def answer(self) -> str:
        return answer(self.costs)

    @property
    def chart(self) -> SafeString:
        return cost_chart(self.costs, today=self.today)

    @property
    def sums(self) -> list[tuple[str, Decimal]]:
        costs = self.costs
        return [
            (gettext("Quoted"), costs.quoted),
            (gettext("Changed since"), costs.changed),
            (gettext("Cost so far"), costs.actual),
            (gettext("Still to come"), costs.to_come),
            (gettext("Of that on order"), costs.committed),
            (gettext("At completion"), costs.at_completion),
        ]

    @property
    def earned(self) -> list[tuple[str, Decimal]]:
        """By cost to cost; nothing where it is not worked out."""
        progress = self.costs.progress
        if progress is None:
            return []
        return [
            (gettext("Contract"), self.costs.contract.before_tax),
            (gettext("Earned"), progress.earned),
            (gettext("Billed"), self.costs.billed),
            self.ahead,
            (gettext("Profit at the end"), progress.profit),
        ]

    @property
    def ahead(self) -> tuple[str, Decimal]:
        """What is billed beyond what is earned, or the other way round."""
        over = self.costs.progress.overbilled
        return (gettext("Overbilled"), over) if over >= 0 else (gettext("Earned, not billed"), -over)

    @cached_property
    def causes(self) -> list[CauseRow]:
        """They add up to what it cost so far less what was quoted."""
        return [
            CauseRow(str(CAUSES[cause]), amount) for cause, amount in self.costs.comparison.differences.by_cause.items()
        ]

    @property
    def difference(self) -> Decimal:
        return self.costs.actual - self.costs.quoted

    @cached_property
    def lines(self) -> list[LineRow]:
        quoted, changed, worked = self.costs.comparison.overhead
        overhead = LineRow(
            gettext("Overhead"), Decimal(0), Decimal(0), quoted + changed, worked, worked - quoted - changed,
            worked - quoted - changed, Decimal(0), "",
        )  # fmt: skip
        return [*(self._line(row) for row in self.costs.comparison.rows), overhead]

    def _line(self, row: Row) -> LineRow:
        return LineRow(
            said(row.name),
            _short(row.quoted + row.changed),
            _short(row.used),
            row.quoted_amount + row.changed_amount,
            row.paid,
            row.difference,
            row.of_quantity,
            row.of_price,
            self.costs.unquoted(row),
        )

    @cached_property
    def places(self) -> list[PlaceRow]:
        return [
            PlaceRow(
                str(row.house) if row.house else gettext("The job as a whole"),
                row.quoted,
                row.changed,
                row.committed,
                row.actual,
                row.to_come,
                row.at_completion,
            )
            for row in self.costs.by_house
        ]

    @cached_property
    def done(self) -> str:
        progress = self.costs.progress
        return percent(progress.part) if progress else ""


def _short(quantity: Decimal) -> Decimal:
    return quantity.quantize(_THOUSANDTH)


@dataclass(frozen=True)
class LessonRow:
    """A lesson as it is said."""

    key: str
    what: str
    said: str
    now: str
    taken: bool
    token: str


def lesson_rows(lessons: Iterable[Lesson]) -> list[LessonRow]:
    rows = []
    for one in lessons:
        low, high = (
            format_decimal(figure.quantize(Decimal("0.01"))) for figure in (one.spread.lowest, one.spread.highest)
        )
        said = f"{format_decimal(one.proposed)} {one.unit}"
        many = gettext("the median of %(jobs)s finished jobs, from %(low)s to %(high)s") % {
            "jobs": one.spread.jobs,
            "low": low,
            "high": high,
        }
        spread = f"{said}, {many}"
        if one.spread.jobs == 1:
            spread = f"{said}, " + gettext("of 1 finished job")
        now = "" if one.now is None else format_decimal(one.now.normalize())
        rows.append(LessonRow(one.key, one.what, spread, now, one.taken, one.token))
    return rows


@dataclass(frozen=True)
class JobHouseRow:
    """``house`` None: the job as a whole; ``cost`` None of whom sees none."""

    house: House | None
    cost: Decimal | None


def houses_of_job(job: Job, *, with_costs: bool) -> dict[str, Any]:
    """For the page of an accepted job: its houses, and what each and all of it cost so far."""
    costs = costs_of(job=job) if with_costs else None
    if costs is None:
        return {"job_houses": [JobHouseRow(house, None) for house in houses_of(job=job)], "costs": None}
    return {"job_houses": [JobHouseRow(row.house, row.actual) for row in costs.by_house], "costs": costs}
