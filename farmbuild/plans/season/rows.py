"""Rows of the season line: what is drawn of a house and of an order, and its two or three words."""

from __future__ import annotations

from datetime import date

from django.urls import reverse

from farmbuild.common.season_line import Flag, Row, Sign, short_day
from farmbuild.measure import count_noun, format_day
from farmbuild.plans.season.selectors import HouseDays, OrderDay, OrderDays


def order_flag(found: OrderDay) -> Flag:
    if found.sent:
        return Flag(found.day, Sign.DELIVERY, f"Order {found.order} comes")
    return Flag(found.day, Sign.ORDER_BY, f"Order {found.order} goes out by")


def margin_words(ends: date, due: date) -> str:
    days = (due - ends).days
    return f"{count_noun(abs(days), 'day')} {'early' if days > 0 else 'late'}" if days else "on the day"


def house_row(house: HouseDays, *, today: date) -> Row:
    """Of the work at a house, against the day by which it should stand."""
    flags = [order_flag(order) for order in house.orders]
    if house.due:
        flags.append(Flag(house.due, Sign.LIMIT, "To stand by"))
    ends = house.open_work[-1].last if house.open_work else None
    note, late = "no day yet", False
    if house.tasks and house.tasks_done == house.tasks:
        note = "done"
    elif ends and house.due:
        note, late = f"{short_day(ends)}, {margin_words(ends, house.due)}", ends > house.due
    elif ends:
        note = f"done by {short_day(ends)}"
    elif house.due and house.due < today:
        note, late = margin_words(today, house.due), True
    return Row(
        house.name,
        reverse("sites:house", args=[house.slug]),
        house.work,
        tuple(flags),
        note,
        late,
        more=f"{house.tasks_done} of {count_noun(house.tasks, 'task')} done",
    )


def by_urgency(house: HouseDays) -> tuple:
    """What is late or ends first comes first, what has no day after it, what is done last."""
    done = bool(house.tasks) and house.tasks_done == house.tasks
    ends = house.open_work[-1].last if house.open_work else date.max
    late = bool(house.due and ends != date.max and ends > house.due)
    return (done, not late, ends, house.due or date.max, house.name, house.pk)


def supplied_row(house: HouseDays, *, today: date) -> Row:
    """Of what is to come for a house, against the day by which its materials are needed."""
    flags = (*(order_flag(order) for order in house.orders), Flag(house.need, Sign.LIMIT, "Materials needed by"))
    last = max((order.day for order in house.orders if order.sent), default=None)
    note, late = f"needed {short_day(house.need)}", False
    if house.tasks and house.tasks_done == house.tasks:
        note = "done"
    elif last:
        note, late = f"{short_day(last)}, {margin_words(last, house.need)}", last > house.need
    return Row(house.name, reverse("sites:house", args=[house.slug]), house.work, flags, note, late)


def order_row(order: OrderDays, *, today: date, href: str = "") -> Row:
    """Dashed until it is sent; from then on it waits up to what comes last. ``href``: where there is no order yet."""
    name, href = f"{order.number} {order.supplier}", href or reverse("buying:order", args=[order.number])
    if order.sent_on is None:
        return _unsent_row(order, name, href, today)
    flags = [Flag(day, Sign.DELIVERY, "Comes") for day in order.coming]
    if order.came:
        flags.insert(0, Flag(order.came, Sign.DELIVERY, "Came last"))
    note, late = (f"came {short_day(order.came)}", False) if order.came else ("sent", False)
    if order.coming:
        first, late = order.coming[0], order.coming[0] < today
        note = f"was due {short_day(first)}" if late else f"comes {short_day(first)}"
    more = f"Sent {format_day(order.sent_on)}"
    return Row(name, href, (), tuple(flags), note, late, more=more, since=order.sent_on)


def _unsent_row(order: OrderDays, name: str, href: str, today: date) -> Row:
    gone = (today - order.order_by).days
    note, late = f"send by {short_day(order.order_by)}", gone > 0 or order.late_days > 0
    if late:
        note = f"{count_noun(gone if gone > 0 else order.late_days, 'day')} late"
    flags = [Flag(order.order_by, Sign.ORDER_BY, "Goes out by")]
    flags += [Flag(day, Sign.DELIVERY, "Would come") for day in order.coming]
    return Row(name, href, (), tuple(flags), note, late, more=f"First needed {format_day(order.need_by)}", open=True)
