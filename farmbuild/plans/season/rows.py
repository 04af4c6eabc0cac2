"""Rows of the season line: what is drawn of a house and of an order, and its two or three words."""

from __future__ import annotations

from datetime import date

from django.urls import reverse

from farmbuild.common.season_line import Flag, Row, Sign, short_day
from farmbuild.measure import count_noun
from farmbuild.plans.season.selectors import HouseDays, OrderDay


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
