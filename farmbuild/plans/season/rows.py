"""Rows of the season line: what is drawn of a house and of an order, and its two or three words."""

from __future__ import annotations

from datetime import date

from django.urls import reverse
from django.utils.translation import gettext, pgettext

from farmbuild.common.season_line import Flag, Row, Sign, short_day
from farmbuild.common.speaking import said_count, said_day
from farmbuild.plans.season.selectors import HouseDays, OrderDay, OrderDays


def order_flag(found: OrderDay) -> Flag:
    words = pgettext("before a day", "Order %(order)s goes out by")
    if found.sent:
        words = pgettext("before a day", "Order %(order)s comes")
    return Flag(found.day, Sign.DELIVERY if found.sent else Sign.ORDER_BY, words % {"order": found.order})


def margin_words(ends: date, due: date) -> str:
    days = (due - ends).days
    if not days:
        return gettext("on the day")
    words = gettext("%(days)s early") if days > 0 else gettext("%(days)s late")
    return words % {"days": said_count(abs(days), "day")}


def house_row(house: HouseDays, *, today: date) -> Row:
    """Of the work at a house, against the day by which it should stand."""
    flags = [order_flag(order) for order in house.orders]
    if house.due:
        flags.append(Flag(house.due, Sign.LIMIT, pgettext("before a day", "To stand by")))
    ends = house.open_work[-1].last if house.open_work else None
    note, late = gettext("no day yet"), False
    if house.tasks and house.tasks_done == house.tasks:
        note = gettext("done")
    elif ends and house.due:
        note, late = f"{short_day(ends)}, {margin_words(ends, house.due)}", ends > house.due
    elif ends:
        note = gettext("done by %(day)s") % {"day": short_day(ends)}
    elif house.due and house.due < today:
        note, late = margin_words(today, house.due), True
    return Row(
        house.name,
        reverse("sites:house", args=[house.slug]),
        house.work,
        tuple(flags),
        note,
        late,
        more=gettext("%(done)s of %(tasks)s done")
        % {"done": house.tasks_done, "tasks": said_count(house.tasks, "task")},
    )


def by_urgency(house: HouseDays) -> tuple:
    """What is late or ends first comes first, what has no day after it, what is done last."""
    done = bool(house.tasks) and house.tasks_done == house.tasks
    ends = house.open_work[-1].last if house.open_work else date.max
    late = bool(house.due and ends != date.max and ends > house.due)
    return (done, not late, ends, house.due or date.max, house.name, house.pk)


def supplied_row(house: HouseDays, *, today: date) -> Row:
    """Of what is to come for a house, against the day by which its materials are needed."""
    needed = Flag(house.need, Sign.LIMIT, pgettext("before a day", "Materials needed by"))
    flags = (*(order_flag(order) for order in house.orders), needed)
    last = max((order.day for order in house.orders if order.sent), default=None)
    note, late = gettext("needed %(day)s") % {"day": short_day(house.need)}, False
    if house.tasks and house.tasks_done == house.tasks:
        note = gettext("done")
    elif last:
        note, late = f"{short_day(last)}, {margin_words(last, house.need)}", last > house.need
    return Row(house.name, reverse("sites:house", args=[house.slug]), house.work, flags, note, late)


def order_row(order: OrderDays, *, today: date, href: str = "") -> Row:
    """Dashed until it is sent; from then on it waits up to what comes last. ``href``: where there is no order yet."""
    name, href = f"{order.number} {order.supplier}", href or reverse("buying:order", args=[order.number])
    if order.sent_on is None:
        return _unsent_row(order, name, href, today)
    flags = [Flag(day, Sign.DELIVERY, pgettext("before a day", "Comes")) for day in order.coming]
    if order.came:
        flags.insert(0, Flag(order.came, Sign.DELIVERY, pgettext("before a day", "Came last")))
    note, late = gettext("sent"), False
    if order.came:
        note = gettext("came %(day)s") % {"day": short_day(order.came)}
    if order.coming:
        first, late = order.coming[0], order.coming[0] < today
        note = (gettext("was due %(day)s") if late else gettext("comes %(day)s")) % {"day": short_day(first)}
    more = gettext("Sent %(day)s") % {"day": said_day(order.sent_on)}
    return Row(name, href, (), tuple(flags), note, late, more=more, since=order.sent_on)


def _unsent_row(order: OrderDays, name: str, href: str, today: date) -> Row:
    gone = (today - order.order_by).days
    note, late = gettext("send by %(day)s") % {"day": short_day(order.order_by)}, gone > 0 or order.late_days > 0
    if late:
        note = gettext("%(days)s late") % {"days": said_count(gone if gone > 0 else order.late_days, "day")}
    flags = [Flag(order.order_by, Sign.ORDER_BY, pgettext("before a day", "Goes out by"))]
    flags += [Flag(day, Sign.DELIVERY, pgettext("before a day", "Would come")) for day in order.coming]
    more = gettext("First needed %(day)s") % {"day": said_day(order.need_by)}
    return Row(name, href, (), tuple(flags), note, late, more=more, open=True)
