"""Change orders, and what a job is agreed at with them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet, Sum

from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Acceptance, ChangeOrder, Job


def jobs_of(*, organisation: Organisation) -> QuerySet[Job]:
    return Job.objects.of(organisation).select_related("customer")


@dataclass(frozen=True)
class Contract:
    """What was accepted, with the change orders accepted since."""

    before_tax: Decimal
    tax: Decimal
    total: Decimal


def changes_of(*, organisation: Organisation) -> QuerySet[ChangeOrder]:
    """Without their files."""
    return ChangeOrder.objects.of(organisation).select_related(
        "organisation", "job__customer", "sent_by", "accepted_by", "made_by"
    )


def contract_of(*, job: Job) -> Contract | None:
    """None before it is accepted."""
    accepted = Acceptance.objects.filter(job=job).values("before_tax", "tax", "total").first()
    if accepted is None:
        return None
    rows = ChangeOrder.objects.filter(job=job, state=ChangeOrder.State.ACCEPTED)
    more = rows.aggregate(before_tax=Sum("before_tax"), tax=Sum("tax"), total=Sum("total"))
    return Contract(**{name: amount + (more[name] or 0) for name, amount in accepted.items()})


def file_of_change(*, change: ChangeOrder, name: str) -> bytes:
    """``name``: pdf or workbook, of one that was sent."""
    return bytes(ChangeOrder.objects.filter(pk=change.pk).values_list(name, flat=True).get())
