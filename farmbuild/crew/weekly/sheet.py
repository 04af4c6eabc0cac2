"""What a week asks, for one reader: the work of its days as on its printed sheet, and what the first page says is due.

A reader who may not see the pages is told of the work of their own crew alone. Texts are by the clock, the units and
the decimal sign in force (``orgs/clock.py``).
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.utils.translation import gettext, ngettext

from farmbuild.buying.incoming import incoming_lines
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import orders_of
from farmbuild.common.speaking import said_day, said_weekday
from farmbuild.crew.bridge import cautions_of, task_unit
from farmbuild.crew.models import Person
from farmbuild.crew.schedule import selectors
from farmbuild.crew.schedule.board import MAX_ROWS, Line, week_of
from farmbuild.crew.wind.selectors import wind_lines
from farmbuild.measure import format_count, format_money
from farmbuild.orgs.acts import Act
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.yard.standing import next_steps_of

#: Orders and deliveries named one by one; the rest is counted.
MOST = 20


@dataclass(frozen=True)
class Day:
    """``title``: Monday 3 May 2027. Lines are whole; those of the wind are warnings."""

    title: str
    work: tuple[str, ...]
    wind: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """``own``: only the reader's crew is in it; ``crew`` is its name, "" for none."""

    first: date
    own: bool
    crew: str
    days: tuple[Day, ...]
    left_out: int
    steps: tuple[str, ...] = ()
    orders: tuple[str, ...] = ()
    deliveries: tuple[str, ...] = ()
    cautions: tuple[str, ...] = field(default=())

    @property
    def last(self) -> date:
        return self.first + timedelta(days=6)


def sheet_of(*, organisation: Organisation, user: User, acts: Collection[Act], monday: date) -> Sheet:
    """As many queries for a large season as for a small one."""
    own = Act.SEE not in acts
    crew = (
        Person.objects.of(organisation).filter(user=user, archived_at=None).select_related("crew").first()
        if own
        else None
    )
    zone = zone_of(organisation=organisation)
    every = selectors.between(selectors.tasks_of(organisation=organisation), monday, 7, zone)
    if own:
        every = every.filter(crew=crew.crew_id) if crew and crew.crew_id else every.none()
    rows = list(every[: MAX_ROWS + 1])
    shifts = selectors.shifts_by_crew(organisation=organisation)
    week = week_of(rows[:MAX_ROWS], monday, zone, shifts, left_out=len(rows[MAX_ROWS:]))
    wind = wind_lines(organisation=organisation, first=monday, last=week.last) if rows else {}
    costs = Act.COSTS in acts
    kinds = dict.fromkeys(line.task.kind for line in week.lines)
    return Sheet(
        first=monday,
        own=own,
        crew=crew.crew.name if crew and crew.crew else "",
        days=tuple(
            Day(
                said_weekday(day),
                tuple(_work(line, own=own) for line in lines),
                # Sites of other crews are named in them: a crew looks at its own day list.
                () if own else tuple(line.words for line in wind.get(day, ()) if line.warns),
            )
            for day, lines in week.days
        ),
        left_out=week.left_out,
        steps=() if own else tuple(step.says for step in next_steps_of(organisation=organisation)),
        orders=() if own else _orders(organisation, week.last, costs=costs),
        deliveries=() if own else _deliveries(organisation, week.last),
        cautions=tuple(f"{one.about}: {one.words}" for one in cautions_of(*kinds)),
    )


def _work(line: Line, *, own: bool) -> str:
    task = line.task
    much = f"{format_count(task.count)} {task_unit(task)[1]}"
    crew = "" if own or not task.crew else f"; {task.crew}"
    done = gettext("; done") if task.state == task.State.DONE else ""
    return f"{line.clock}  {task.get_kind_display()}, {task.house} ({task.house.site.name}): {much}{crew}{done}"


def _orders(organisation: Organisation, last: date, *, costs: bool) -> tuple[str, ...]:
    """Drafts that have to go out by the end of the week, or had to before."""
    drafts = orders_of(organisation=organisation, state=PurchaseOrder.State.DRAFT)
    found = [
        gettext("Order %(number)s to %(supplier)s by %(day)s")
        % {"number": order.number, "supplier": order.supplier.name, "day": said_day(order.order_by)}
        + (f", {format_money(order.total, order.currency)}" if costs else "")
        for order in drafts.filter(order_by__lte=last, overtaken=False, line_count__gt=0)[: MOST + 1]
    ]
    return _some(found, lambda more: ngettext("and %(more)s more order", "and %(more)s more orders", more))


def _deliveries(organisation: Organisation, last: date) -> tuple[str, ...]:
    """Of sent orders, what is due by the end of the week, a line an order and day."""
    due = {
        (line.due_on, line.order.number, line.order.supplier.name) for line in incoming_lines(organisation=organisation)
    }
    found = [
        gettext("Order %(number)s from %(supplier)s, due %(day)s")
        % {"number": number, "supplier": name, "day": said_day(day)}
        for day, number, name in sorted(due)
        if day <= last
    ]
    return _some(found, lambda more: ngettext("and %(more)s more delivery", "and %(more)s more deliveries", more))


def _some(found: list[str], others: Callable[[int], str]) -> tuple[str, ...]:
    """``others``: of how many more there are."""
    more = len(found) - MOST
    return tuple(found) if more <= 0 else (*found[:MOST], others(more) % {"more": format_count(more)})
