"""The next step of the whole season: of each kind the one that is due first, as a sentence and a page to go to."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from farmbuild.buying.incoming import first_due
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.outdated import changed_houses
from farmbuild.buying.selectors import orders_of
from farmbuild.common.speaking import said_day
from farmbuild.crew.models import Kind, Task, WindLimit
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.crew.wind.selectors import wind_days
from farmbuild.hoops.batches.measured.wear import wear_by_bender
from farmbuild.hoops.batches.selectors import batches_in_trial, shares_of
from farmbuild.hoops.batches.words import status_of
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.measure import format_count
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
    who = names[0] if names else gettext("batch %(batch)s") % {"batch": batch.number}
    if len(names) > 1:
        who = gettext("%(house)s and others") % {"house": who}
    words = ngettext(
        "The trial hoop for %(who)s is not accepted; %(count)s hoop waits for it.",
        "The trial hoop for %(who)s is not accepted; %(count)s hoops wait for it.",
        batch.quantity,
    )
    step = status_of(batch).step
    return NextStep(
        batch.wanted.astimezone(zone_of(organisation=organisation)).date(),
        words % {"who": who, "count": format_count(batch.quantity)},
        step.label,
        step.url,
        gettext("accept the trial hoop for %(who)s") % {"who": who},
    )


def _to_send(organisation: Organisation, today: date) -> NextStep | None:
    drafts = orders_of(organisation=organisation, state=PurchaseOrder.State.DRAFT)
    order = drafts.filter(overtaken=False, line_count__gt=0).first()
    if order is None:
        return None
    if order.plan and changed_houses(order=order):
        return NextStep(
            order.order_by,
            gettext("Order %(order)s is out of date: plan again before it goes out.") % {"order": order.number},
            gettext("See plan %(plan)s") % {"plan": order.plan.number},
            order.plan.get_absolute_url(),
            gettext("plan again before order %(order)s goes out") % {"order": order.number},
        )
    label, by = gettext("Send order %(order)s") % {"order": order.number}, said_day(order.order_by)
    url = reverse("buying:send", args=[order.number])
    if order.order_by < today:
        said = gettext("Order %(order)s to %(supplier)s was to go out by %(by)s.") % {
            "order": order.number,
            "supplier": order.supplier.name,
            "by": by,
        }
        return NextStep(
            order.order_by,
            said,
            label,
            url,
            gettext("send order %(order)s, late since %(by)s") % {"order": order.number, "by": by},
        )
    return NextStep(
        order.order_by,
        gettext("Send order %(order)s to %(supplier)s by %(by)s.")
        % {"order": order.number, "supplier": order.supplier.name, "by": by},
        label,
        url,
        gettext("send order %(order)s by %(by)s") % {"order": order.number, "by": by},
    )


def _delivery(organisation: Organisation, today: date) -> NextStep | None:
    line = first_due(organisation=organisation)
    if line is None:
        return None
    order, due = line.order, line.due_on
    told = {"order": order.number, "supplier": order.supplier.name, "day": said_day(due)}
    if due < today:
        said = gettext("Order %(order)s from %(supplier)s was due on %(day)s.")
        clause = gettext("order %(order)s was due on %(day)s")
    else:
        said = gettext("Order %(order)s from %(supplier)s is due on %(day)s.")
        clause = gettext("order %(order)s is due on %(day)s")
    return NextStep(
        due,
        said % told,
        gettext("Receive order %(order)s") % {"order": order.number},
        reverse("buying:receive", args=[order.number]),
        clause % told,
    )


def _late_task(organisation: Organisation) -> NextStep | None:
    late = tasks_of(organisation=organisation).exclude(state=Task.State.DONE).filter(ends_at__lt=timezone.now())
    task = late.order_by("ends_at", "pk").first()
    if task is None:
        return None
    day = task.ends_at.astimezone(zone_of(organisation=organisation)).date()
    name = gettext("%(task)s at %(house)s") % {"task": task.get_kind_display(), "house": task.house}
    return NextStep(
        day,
        gettext("%(name)s was to end by %(day)s.") % {"name": name, "day": said_day(day)},
        gettext("See the late task"),
        reverse("crew:task", args=[task.pk]),
        gettext("%(name)s was to end by %(day)s") % {"name": f"{name[:1].lower()}{name[1:]}", "day": said_day(day)},
    )


def _service(organisation: Organisation, today: date) -> NextStep | None:
    """Of the benders with a rule, the one that is overdue for its service, or due soon, first by day."""
    ruled = benders_of(organisation=organisation).exclude(service_pulls=None, service_months=None)
    wears = wear_by_bender(organisation=organisation, benders=list(ruled)).values()
    due = [wear for wear in wears if wear.due.overdue or wear.due.soon]
    if not due:
        return None
    wear = min(due, key=lambda wear: (not wear.due.overdue, wear.due.day or today, wear.bender.name))
    words = (
        gettext("the service of %(bender)s is overdue")
        if wear.due.overdue
        else gettext("the service of %(bender)s is due soon")
    )
    said = words % {"bender": wear.bender}
    by = wear.due.day if wear.due.day and (wear.due.passed or wear.due.soon) else today
    return NextStep(
        by,
        f"{said[:1].upper()}{said[1:]}.",
        gettext("See its wear"),
        reverse("hoops:bender-wear", args=[wear.bender.slug]),
        said,
    )


def _wind(organisation: Organisation, today: date) -> NextStep | None:
    days = wind_days(organisation=organisation, first=today, last=today + timedelta(days=WIND_DAYS))
    note = next((note for day in days for note in day.notes if note.over), None)
    if note is None:
        return None
    said = gettext("too much wind for %(work)s at %(site)s on %(day)s") % {
        "work": WindLimit.Work(note.work).label.lower(),
        "site": note.site,
        "day": said_day(note.day),
    }
    return NextStep(note.day, f"{said[:1].upper()}{said[1:]}.", gettext("See the wind"), reverse("crew:wind"), said)
