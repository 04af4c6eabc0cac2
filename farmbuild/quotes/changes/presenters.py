"""What the pages of change orders show, gathered once."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.compiled import compiled_once
from farmbuild.common.speaking import said_day
from farmbuild.measure import format_decimal, line_total
from farmbuild.quotes.bridge import offered_of
from farmbuild.quotes.changes import selectors
from farmbuild.quotes.models import ChangeOrder, Job, JobHouse, QuoteLine
from farmbuild.quotes.sending.agreed import agreed_digest
from farmbuild.quotes.sending.freezing import frozen_change
from farmbuild.quotes.sending.presenters import ShownOffer, shown_offer
from farmbuild.sites.models import House


@dataclass(frozen=True)
class ShownLine:
    """``cost`` in coins, None of hours. ``at`` as ``remove_line`` takes it."""

    at: int
    kind: str
    what: str
    quantity: str
    price: Decimal | None
    cost: Decimal | None


def lines_of(change: ChangeOrder) -> list[ShownLine]:
    return [_line(at, line, change.currency) for at, line in enumerate(change.lines)]


def _line(at: int, line: dict[str, Any], currency: str) -> ShownLine:
    quantity, price = Decimal(line["quantity"]), Decimal(line["price"]) if line["price"] else None
    return ShownLine(
        at=at,
        kind=QuoteLine.Kind(line["kind"]).label,
        what=line["what"],
        quantity=format_decimal(quantity.normalize() + 0),
        price=price,
        cost=None if price is None else line_total(quantity, price, currency),
    )


def offer_of_change(change: ChangeOrder) -> ShownOffer:
    """As it was sent; a draft as it would be."""
    shown = change.shown or frozen_change(
        organisation=change.organisation,
        job=change.job,
        number=change.number,
        what=change.what,
        lines=change.lines,
        rates=change.rates,
        day=timezone.localdate(change.made_at),
        valid_until=timezone.localdate(change.made_at),
    )
    name = gettext("Change %(number)s") % {"number": change.number}
    return shown_offer(offered_of(shown), answered_words(change), name)


def answered_words(change: ChangeOrder) -> str:
    """Whether it was accepted or declined, by whom and when; empty before."""
    if change.state in (ChangeOrder.State.ACCEPTED, ChangeOrder.State.DECLINED):
        words = (
            gettext("%(name)s accepted it on %(day)s.")
            if change.state == ChangeOrder.State.ACCEPTED
            else gettext("%(name)s declined it on %(day)s.")
        )
        return words % {"name": change.accepted_name, "day": said_day(change.accepted_on)}
    return ""


def changes_of_job(job: Job) -> dict[str, Any]:
    """For the page of a job: its change orders, the sum agreed, and houses that were changed since."""
    rows = job.changes.defer("pdf", "workbook", "shown", "lines", "rates").order_by("number")
    return {
        "changes": list(rows),
        "contract": selectors.contract_of(job=job),
        "may_change": job.state == Job.State.ACCEPTED,
        "changed_houses": changed_houses(job=job),
    }


def changed_houses(*, job: Job) -> list[House]:
    """Houses of an accepted job that are built otherwise than the customer agreed to."""
    rows = JobHouse.objects.filter(job=job, job__state=Job.State.ACCEPTED, house__archived_at=None).exclude(agreed="")
    agreed = dict(rows.values_list("house", "agreed"))
    houses = House.objects.filter(pk__in=agreed).with_materials().order_by("pk") if agreed else ()
    return [house for house in houses if agreed_digest(house) != agreed[house.pk]]


def job_changed_by(*, house: House) -> Job | None:
    """The accepted job whose customer agreed to another house than it is now."""
    row = next(iter(_agreed_houses(house.pk)), None)
    return row.job if row and row.agreed != agreed_digest(house) else None


@compiled_once
def _agreed_houses(house: int) -> QuerySet[JobHouse]:
    rows = JobHouse.objects.filter(house_id=house, live=True, job__state=Job.State.ACCEPTED).exclude(agreed="")
    return rows.select_related("job").order_by("job", "pk")[:1]
