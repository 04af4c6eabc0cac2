"""The next step of the whole season: of each kind the one that is due first, as a sentence and a page to go to."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone

from farmbuild.buying.incoming import first_due
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.outdated import changed_houses
from farmbuild.buying.selectors import orders_of
from farmbuild.crew.models import Kind, Task, WindLimit
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.crew.wind.selectors import wind_days
from farmbuild.hoops.batches.measured.wear import wear_by_bender
from farmbuild.hoops.batches.selectors import batches_in_trial, shares_of
from farmbuild.hoops.batches.words import status_of
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.measure import count_noun, format_day
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.yard.standing import NextStep

#: Wind is looked at for today and so many days more; a forecast says little of later ones.
WIND_DAYS = 2


def next_steps(*, organisation: Organisation) -> list[NextStep]:
    """At most one of each kind; as few queries for a large season as for a small one."""
    today = today_of(organisation=organisation)
    found = (
        _trial(organisation),
        _to_send(organisation, today),
        _delivery(organisation, today),
        _late_task(organisation),
        _wind(organisation, today),
        _service(organisation, today),
    )
    return [step for step in found if step]


def _trial(organisation: Organisation) -> NextStep | None:
    """The batch in trial whose trial hoop is planned first, or was begun first."""
    planned = Task.objects.filter(house__hoop_shares__batch=OuterRef("pk"), kind=Kind.TRIAL, starts_at__isnull=False)
    rows = batches_in_trial(organisation=organisation).annotate(
        wanted=Coalesce(Subquery(planned.order_by("starts_at").values("starts_at")[:1]), "created_at")
    )
    batch = rows.order_by("wanted", "number").first()
    if batch is None:
        return None
    shares = shares_of(batch=batch).order_by("house__need_date", "house__name", "pk")
    names = list(shares.values_list("house__name", flat=True)[:2])
    who = names[0] if names else f"batch {batch.number}"
    who += " and others" if len(names) > 1 else ""
    wait = f"{count_noun(batch.quantity, 'hoop')} {'waits' if batch.quantity == 1 else 'wait'} for it"
    step = status_of(batch).step
    return NextStep(
        batch.wanted.astimezone(zone_of(organisation=organisation)).date(),
        f"The trial hoop for {who} is not accepted; {wait}.",
        step.label,
        step.url,
        f"accept the trial hoop for {who}",
    )


def _to_send(organisation: Organisation, today: date) -> NextStep | None:
    drafts = orders_of(organisation=organisation, state=PurchaseOrder.State.DRAFT)
    order = drafts.filter(overtaken=False, line_count__gt=0).first()
    if order is None:
        return None
    if order.plan and changed_houses(order=order):
        return NextStep(
            order.order_by,
            f"Order {order.number} is out of date: plan again before it goes out.",
            f"See plan {order.plan.number}",
            order.plan.get_absolute_url(),
            f"plan again before order {order.number} goes out",
        )
    label, by = f"Send order {order.number}", format_day(order.order_by)
    url = reverse("buying:send", args=[order.number])
    if order.order_by < today:
        said = f"Order {order.number} to {order.supplier.name} was to go out by {by}."
        return NextStep(order.order_by, said, label, url, f"send order {order.number}, late since {by}")
    return NextStep(
        order.order_by,
        f"Send order {order.number} to {order.supplier.name} by {by}.",
        label,
        url,
        f"send order {order.number} by {by}",
    )


def _delivery(organisation: Organisation, today: date) -> NextStep | None:
    line = first_due(organisation=organisation)
    if line is None:
        return None
    order, due = line.order, line.due_on
    was = "was" if due < today else "is"
    return NextStep(
        due,
        f"Order {order.number} from {order.supplier.name} {was} due on {format_day(due)}.",
        f"Receive order {order.number}",
        reverse("buying:receive", args=[order.number]),
        f"order {order.number} {was} due on {format_day(due)}",
    )


def _late_task(organisation: Organisation) -> NextStep | None:
    late = tasks_of(organisation=organisation).exclude(state=Task.State.DONE).filter(ends_at__lt=timezone.now())
    task = late.order_by("ends_at", "pk").first()
    if task is None:
        return None
    day = task.ends_at.astimezone(zone_of(organisation=organisation)).date()
    name = f"{task.get_kind_display()} at {task.house}"
    return NextStep(
        day,
        f"{name} was to end by {format_day(day)}.",
        "See the late task",
        reverse("crew:task", args=[task.pk]),
        f"{name[:1].lower()}{name[1:]} was to end by {format_day(day)}",
    )


def _service(organisation: Organisation, today: date) -> NextStep | None:
    """Of the benders with a rule, the one that is overdue for its service, or due soon, first by day."""
    ruled = benders_of(organisation=organisation).exclude(service_pulls=None, service_months=None)
    wears = wear_by_bender(organisation=organisation, benders=list(ruled)).values()
    due = [wear for wear in wears if wear.due.overdue or wear.due.soon]
    if not due:
        return None
    wear = min(due, key=lambda wear: (not wear.due.overdue, wear.due.day or today, wear.bender.name))
    said = f"the service of {wear.bender} is {'overdue' if wear.due.overdue else 'due soon'}"
    by = wear.due.day if wear.due.day and (wear.due.passed or wear.due.soon) else today
    return NextStep(
        by,
        f"{said[:1].upper()}{said[1:]}.",
        "See its wear",
        reverse("hoops:bender-wear", args=[wear.bender.slug]),
        said,
    )


def _wind(organisation: Organisation, today: date) -> NextStep | None:
    days = wind_days(organisation=organisation, first=today, last=today + timedelta(days=WIND_DAYS))
    note = next((note for day in days for note in day.notes if note.over), None)
    if note is None:
        return None
    said = f"too much wind for {WindLimit.Work(note.work).label.lower()} at {note.site} on {format_day(note.day)}"
    return NextStep(note.day, f"{said[:1].upper()}{said[1:]}.", "See the wind", reverse("crew:wind"), said)
