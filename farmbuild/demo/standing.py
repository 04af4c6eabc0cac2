"""How the season stands, in a few lines for whoever starts the demo."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import Count, Q

from farmbuild.buying.models import PurchaseOrder
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.selectors import bookings_of
from farmbuild.crew.models import Actual, BenderBooking, Schedule, Task
from farmbuild.crew.schedule.selectors import progress_of, tasks_of
from farmbuild.measure import count_noun, join_words
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation


def standing_of(*, organisation: Organisation) -> list[str]:
    with zone_in_force(organisation):
        return [*_houses(organisation), *_orders(organisation), *_crew(organisation)]


def _houses(organisation: Organisation) -> Iterator[str]:
    under_way = tasks_of(organisation=organisation).filter(state=Task.State.STARTED)
    rest = 0
    for house in progress_of(organisation=organisation):
        steps = [task.get_kind_display() for task in under_way if task.house_id == house.pk]
        if house.tasks_done == house.task_count:
            yield f"{house} is covered."
        elif steps:
            yield f"{house} is under way: {join_words(steps)}."
        else:
            rest += not house.tasks_done
    if rest:
        yield f"{count_noun(rest, 'house')} still to begin."


def _orders(organisation: Organisation) -> Iterator[str]:
    rows = PurchaseOrder.objects.of(organisation).filter(state__in=PurchaseOrder.OPEN)
    for order in rows.select_related("supplier").prefetch_related("lines").order_by("number"):
        due = min(line.due_on for line in order.lines.all() if line.to_come)
        yield f"Order {order.number} from {order.supplier}: {order.get_state_display().lower()}, due {day(due)}."


def _crew(organisation: Organisation) -> Iterator[str]:
    waiting = Actual.objects.of(organisation).exclude(problem="").filter(settled=None)
    found = waiting.aggregate(all=Count("pk", distinct=True), shown=Count("pk", Q(photos__isnull=False), distinct=True))
    if found["all"]:
        yield f"{count_noun(found['all'], 'problem')} to correct, {found['shown']} with a photo."
    states = BenderBooking.State
    for row in bookings_of(organisation=organisation).filter(
        state__in=[states.OUT, states.BOOKED], member__isnull=False
    ):
        yield f"{row.bender}, {row.member}: {row.get_state_display().lower()}, {day(row.first)} to {day(row.last)}."
    if last := Schedule.objects.of(organisation).exclude(published_at=None).first():
        yield f"{last} is published."
