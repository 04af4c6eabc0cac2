"""Reads of stages and bills."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from farmbuild.orgs.models import Organisation
from farmbuild.quotes.agreed.bridge import Part, bill_parts, kept_back, left_of, stage_amount
from farmbuild.quotes.agreed.contract import Contract
from farmbuild.quotes.bridge import Kind
from farmbuild.quotes.models import Bill, BillTerms, ChangeOrder, Job, Stage

NOTHING = Decimal(0)
_BESIDE = ("reverses", "reversed_by", "stage", "change")
#: What rows beside a bill have, which its own manager does not keep from being read.
_FILES = tuple(f"{row}__{name}" for row in ("reverses", "reversed_by", "change") for name in ("pdf", "workbook"))


def bills_of(*, organisation: Organisation) -> QuerySet[Bill]:
    """With what lists show of them, without their files."""
    rows = Bill.objects.of(organisation).select_related("job__customer", "made_by", *_BESIDE).defer(*_FILES)
    return rows.order_by("-number")


def bills_between(
    *, organisation: Organisation, first: date | None = None, last: date | None = None, job: Job | None = None
) -> QuerySet[Bill]:
    """Of a period, both days with it, and of one job alone."""
    rows = bills_of(organisation=organisation)
    asked = {"day__gte": first, "day__lte": last, "job": job}
    return rows.filter(**{name: value for name, value in asked.items() if value is not None})


def jobs_of(*, organisation: Organisation) -> QuerySet[Job]:
    return Job.objects.of(organisation).select_related("customer", "organisation")


def stages_of(*, job: Job) -> list[tuple[str, Decimal]]:
    """Name and percent of each."""
    return [(stage.name, stage.percent) for stage in Stage.objects.filter(job=job)]


def accepted_jobs_of(*, organisation: Organisation) -> QuerySet[Job]:
    return Job.objects.of(organisation).filter(acceptance__isnull=False).order_by("-number")


def terms_of(*, job: Job) -> BillTerms:
    """As stored, else what they begin with."""
    return BillTerms.objects.filter(job=job).first() or BillTerms(organisation=job.organisation, job=job)


def parts_of(bill: Bill) -> tuple[Part, ...]:
    """As the bill has them."""
    return tuple(
        Part(Kind(row["kind"]), Decimal(row["percent"]), Decimal(row["amount"]), Decimal(row["tax"]))
        for row in bill.shown["parts"]
    )


def counts(bill: Bill) -> bool:
    """Neither taken back nor what takes back."""
    return bill.reverses_id is None and getattr(bill, "reversed_by", None) is None


@dataclass(frozen=True)
class StageRow:
    """``amount``: of its bill, else what it would ask for now."""

    stage: Stage
    bill: Bill | None
    amount: Decimal


@dataclass(frozen=True)
class ChangeRow:
    """``within``: the bill of a stage that asks for a part of it already."""

    change: ChangeOrder
    bill: Bill | None
    within: Bill | None
    amount: Decimal


class Billing:
    """All bills of one job against its contract; three queries."""

    def __init__(self, contract: Contract) -> None:
        self.contract, self.job, self.currency = contract, contract.job, contract.currency
        rows = Bill.objects.filter(job=self.job).select_related(*_BESIDE).defer(*_FILES)
        self.bills = list(rows.order_by("number"))
        self.all_stages = list(Stage.objects.filter(job=self.job))
        self.terms = terms_of(job=self.job)
        self.counting = [bill for bill in self.bills if counts(bill)]

    @property
    def billed(self) -> Decimal:
        return sum((bill.billed for bill in self.bills), NOTHING)

    @property
    def taxed(self) -> Decimal:
        return sum((bill.tax for bill in self.bills), NOTHING)

    @property
    def kept(self) -> Decimal:
        return sum((bill.kept for bill in self.bills), NOTHING)

    @property
    def due(self) -> Decimal:
        return sum((bill.due for bill in self.bills), NOTHING)

    @property
    def due_before_tax(self) -> Decimal:
        return self.billed - self.kept

    @property
    def open(self) -> Decimal:
        """Before tax, of the whole contract."""
        return self.contract.before_tax - self.billed

    @property
    def release(self) -> Bill | None:
        """By which what was kept back was asked for."""
        return next((bill for bill in self.counting if not bill.stage_id and not bill.change_id), None)

    def bill_of(self, stage: Stage) -> Bill | None:
        return next((bill for bill in self.counting if bill.stage_id == stage.pk), None)

    def bill_of_change(self, change: ChangeOrder) -> Bill | None:
        return next((bill for bill in self.counting if bill.change_id == change.pk), None)

    def within(self, change: ChangeOrder) -> Bill | None:
        return next((bill for bill in self.counting if change.number in bill.shown.get("changes", [])), None)

    @property
    def staged(self) -> list[Any]:
        """What stages are percents of: the option, and the changes that have no bill of their own."""
        return [one for one in self.contract.all if one.change is None or self.bill_of_change(one.change) is None]

    @property
    def staged_parts(self) -> list[Part]:
        return [part for one in self.staged for part in one.parts]

    @property
    def billed_by_stages(self) -> list[Part]:
        """With what was taken back of them."""
        return [part for bill in self.bills if not bill.change_id for part in parts_of(bill)]

    def is_last(self, stage: Stage) -> bool:
        return all(self.bill_of(one) for one in self.all_stages if one.pk != stage.pk)

    def amount_of(self, stage: Stage) -> Decimal:
        """That a bill of it would ask for now, before tax."""
        whole = sum((one.before_tax for one in self.staged), NOTHING)
        return stage_amount(whole, stage.percent, self.left, last=self.is_last(stage), currency=self.currency)

    @property
    def left(self) -> Decimal:
        """Of what stages are percents of."""
        left = left_of(self.staged_parts, self.billed_by_stages)
        return sum((part.amount for part in left.values()), NOTHING)

    def parts_for(self, amount: Decimal) -> tuple[Part, ...]:
        """Raises ValueError where it is more than is left."""
        return bill_parts(self.staged_parts, self.billed_by_stages, amount, currency=self.currency)

    def kept_of(self, amount: Decimal) -> Decimal:
        """What is kept back of a bill of this amount; nothing once it was asked for."""
        if self.release:
            return NOTHING
        return kept_back(self.billed + amount, self.terms.kept_percent, self.kept, self.currency)

    @property
    def stages(self) -> list[StageRow]:
        found = [(stage, self.bill_of(stage)) for stage in self.all_stages]
        return [StageRow(stage, bill, bill.billed if bill else self.amount_of(stage)) for stage, bill in found]

    @property
    def changes(self) -> list[ChangeRow]:
        rows = [(one, self.bill_of_change(one.change)) for one in self.contract.changes]
        return [ChangeRow(one.change, bill, self.within(one.change), one.before_tax) for one, bill in rows]

    @property
    def next_stage(self) -> Stage | None:
        return next((row.stage for row in self.stages if row.bill is None), None)

    @property
    def may_release(self) -> bool:
        return self.kept > 0 and not self.open and self.release is None


def sums_of(bills: QuerySet[Bill]) -> dict[str, Decimal]:
    """One query; added up here, since SQLite sums them as binary fractions."""
    names = ("billed", "kept", "tax", "due")
    rows = list(bills.order_by().values(*names))
    return {name: sum((row[name] for row in rows), NOTHING) for name in names}
