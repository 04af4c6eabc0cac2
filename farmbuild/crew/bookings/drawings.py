"""The calendar of shared benders: a row for each, days along, a numbered bar for each booking.

One unit of the model is one unit of the sheet. How a bar is drawn says its state without colour: plain for own work,
filled for a member's, hatched while it is out, and dashed where it should be back already.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext, pgettext

from farmbuild.common.drawing import Drawing
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.weeks import DAYS
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking
from farmbuild.hoops.benders.models import Bender

ROWS = 9
_ROW, _BAR, _DAY = 46.0, 23.0, 12.0
#: The foot of a bar that is hatched, so that its number stays readable; and from one stroke to the next.
_FOOT, _HATCH = 9.0, 4.0
#: Of the drawing's box; the calendar is a little wider and takes up the usual margin.
_BOX = 280.0


@dataclass(frozen=True)
class Bar:
    """``shown_to``: the day that the bender is gone through, later than its last while it is late."""

    number: int
    booking: BenderBooking
    shown_to: date
    late: bool

    @property
    def words(self) -> str:
        state = gettext("late, due back") if self.late else f"{self.booking.get_state_display().lower()},"
        when = day(self.booking.last) if self.late else days_of(self.booking)
        return f"{who(self.booking)}, {self.booking.bender}: {state} {when}"


def bars_of(spans: Sequence[tuple[BenderBooking, date]], start: date, today: date) -> list[Bar]:
    """Of what touches the days drawn, numbered from 1 by first day."""
    end = start + timedelta(days=DAYS - 1)
    near = [(row, last) for row, last in spans if row.first <= end and last >= start]
    return [
        Bar(number, row, last, late=row.state == row.State.OUT and row.last < today)
        for number, (row, last) in enumerate(near, 1)
    ]


def calendars(benders: Sequence[Bender], bars: Sequence[Bar], start: date, today: date) -> list[SafeString]:
    """One drawing for each nine benders."""
    by_bender: dict[int, list[Bar]] = {}
    for bar in bars:
        by_bender.setdefault(bar.booking.bender_id, []).append(bar)
    return [_calendar(benders[at : at + ROWS], by_bender, start, today) for at in range(0, len(benders), ROWS)]


def _calendar(benders: Sequence[Bender], bars: Mapping[int, Sequence[Bar]], start: date, today: date) -> SafeString:
    end = start + timedelta(days=DAYS - 1)
    told = "; ".join(f"{bar.number}: {bar.words}" for bender in benders for bar in bars.get(bender.pk, ()))
    drawing, bases = frame(
        benders, start, today, gettext("Shared benders"), told or gettext("Nothing is booked in these days")
    )
    for bender, base in zip(benders, bases, strict=True):
        for bar in sorted(bars.get(bender.pk, ()), key=lambda bar: bar.late):
            _bar(drawing, bar, base, start, end)
    return drawing.svg()


def frame(benders: Sequence[Bender], start: date, today: date, title: str, told: str) -> tuple[Drawing, list[float]]:
    """A row for each bender with its name, days along, and the foot of each row's bars."""
    end = start + timedelta(days=DAYS - 1)
    high = _ROW * len(benders)
    drawing = Drawing(
        _BOX,
        high,
        gettext("%(title)s from %(start)s to %(end)s") % {"title": title, "start": day(start), "end": day(end)},
        f"{told}.",
    )
    for at in range(DAYS + 1):
        if (start + timedelta(days=at)).weekday() == 0:
            drawing.line(at * _DAY, 0, at * _DAY, high, "thin")
    for words, at in _mondays(start):
        drawing.text(at * _DAY + 2, high + 6, words, anchor="start")
    if start <= today <= end:
        x = ((today - start).days + 0.5) * _DAY
        drawing.today(
            x, 0, high, gettext("today, %(today)s") % {"today": day(today)}, anchor="start" if x < _BOX / 2 else "end"
        )
    bases = [high - _ROW * (row + 1) + 2 for row in range(len(benders))]
    for bender, base in zip(benders, bases, strict=True):
        drawing.line(0, base - 2, DAYS * _DAY, base - 2, "thin")
        drawing.text(3, base + _BAR + 4, bender.name, anchor="start")
    return drawing, bases


def box(drawing: Drawing, base: float, start: date, first: date, last: date, style: str) -> float:
    """What of ``first`` to ``last`` is drawn, as a plain bar; gives its middle."""
    left = max(0, (first - start).days) * _DAY
    right = (min(start + timedelta(days=DAYS - 1), last) - start).days * _DAY + _DAY
    drawing.rect(left, base, right - left, _BAR, style)
    return (left + right) / 2


def _mondays(start: date) -> Iterator[tuple[str, int]]:
    for at in range(DAYS - 3):
        moment = start + timedelta(days=at)
        if moment.weekday() == 0:
            yield date_format(moment, pgettext("format of a day", "j M")), at


def _bar(drawing: Drawing, bar: Bar, base: float, start: date, end: date) -> None:
    booking = bar.booking
    left = max(0, (booking.first - start).days) * _DAY
    right = (min(end, bar.shown_to) - start).days * _DAY + _DAY
    due = min(right, max(left, (booking.last - start).days * _DAY + _DAY))
    solid = due if due > left else right
    with drawing.link(reverse("crew:booking", args=[booking.pk]), bar.words):
        if due > left:
            drawing.rect(left, base, due - left, _BAR, "fill" if booking.member_id else "ink")
        if bar.late and right > due:
            # Within the bar that it delays.
            drawing.rect(due, base + 3, right - due - 3, _BAR - 6, "dash")
        if booking.state == booking.State.OUT:
            x = left + _HATCH
            while x < solid + _FOOT:
                # From the foot up to the right, cut off at both ends of the bar.
                low, top = max(left, x - _FOOT), min(x, solid)
                drawing.line(low, base + low - (x - _FOOT), top, base + top - (x - _FOOT), "thin")
                x += _HATCH
        drawing.text((left + solid) / 2, base + _FOOT + 2.5, bar.number)
