"""Days across: where each stands in a hundredth of the width, and which of them are written.

Across, everything is a share of the width, so that one drawing fits a phone, a desk and paper with letters of one size.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from hashlib import sha1
from math import ceil

from django.utils.formats import date_format
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext, pgettext

from farmbuild.common.markup import markup
from farmbuild.common.speaking import said_day

#: Today belongs on the drawing where it is no further than this from what is drawn.
NEAR = timedelta(weeks=13)
#: A limit belongs on it where it is no further than this, or half of what is drawn, from that; else it is named at the
#: edge, in this share more of room.
_REACH, _EDGE = timedelta(weeks=4), 0.25
_DAILY, _WEEKLY = 14, 26 * 7
#: Months from one that is written to the next.
_PARTS_OF_A_YEAR = (1, 2, 3, 4, 6, 12)
#: How many days may be written across, by the breadth of the drawing; the style sheet shows one of these kinds.
_WRITTEN = {"xs": 2, "s": 4, "m": 8, "l": 14}


def share(part: float) -> str:
    """As the width of a drawing is written: 12.5%."""
    return str(round(part, 3)).removesuffix(".0") + "%"


def short_day(day: date) -> str:
    """3 May."""
    return date_format(day, pgettext("format of a day", "j M"))


@dataclass(frozen=True)
class Axis:
    """From the Monday ``first`` up to, and without, the Monday ``end``. ``today`` is None where it is too far off."""

    first: date
    end: date
    today: date | None

    @classmethod
    def over(cls, days: Iterable[date], *, today: date, limits: Iterable[date] = ()) -> Axis:
        """Whole weeks with all of these days in, with today where it is near, and with the limits that are.

        Nothing happens on a limit: one far off would press together all that does.
        """
        binding = sorted(limits)
        found = sorted(days) or binding or [today]
        near = found[0] - NEAR <= today <= found[-1] + NEAR
        first, last = (min(found[0], today), max(found[-1], today)) if near else (found[0], found[-1])
        reach = max(_REACH, (last - first) / 2)
        kept = [first, last, *(day for day in binding if first - reach <= day <= last + reach)]
        first, last = min(kept), max(kept)
        edge = timedelta(weeks=ceil(((last - first).days / 7 + 1) * _EDGE))
        if any(day < first for day in binding):
            first -= edge
        if any(day > last for day in binding):
            last += edge
        monday = first - timedelta(days=first.weekday())
        return cls(monday, last + timedelta(days=7 - last.weekday()), today if near else None)

    @property
    def days(self) -> int:
        return (self.end - self.first).days

    @property
    def last(self) -> date:
        return self.end - timedelta(days=1)

    def at(self, day: date) -> float:
        """Hundredths of the width at which the day begins."""
        return (day - self.first).days / self.days * 100

    def edge(self, day: date) -> str:
        """Past which edge a day lies: start, end, or "" for none."""
        return "start" if day < self.first else "end" if day >= self.end else ""

    @property
    def key(self) -> str:
        return "w" + sha1(f"{self.first}{self.end}".encode()).hexdigest()[:8]

    @property
    def by_months(self) -> bool:
        return self.days > _WEEKLY

    def marks(self) -> Iterator[tuple[date, str]]:
        """Days that have a line, with what is written at it: every day of two weeks, every week, or every month."""
        if not self.by_months:
            for n in range(0, self.days, 1 if self.days <= _DAILY else 7):
                day = self.first + timedelta(days=n)
                yield day, short_day(day)
            return
        day = self.first.replace(day=1)
        while day < self.end:
            if day >= self.first:
                yield day, str(day.year) if day.month == 1 else date_format(day, "M")
            day = (day + timedelta(days=32)).replace(day=1)

    @property
    def years(self) -> str:
        first, last = self.first.year, self.last.year
        what = gettext("Months") if self.by_months else gettext("Days") if self.days <= _DAILY else gettext("Weeks")
        if first == last:
            return gettext("%(what)s of %(year)s") % {"what": what, "year": first}
        return gettext("%(what)s, %(first)s to %(last)s") % {"what": what, "first": first, "last": last}

    @property
    def said(self) -> str:
        days = {"years": self.years, "first": said_day(self.first), "last": said_day(self.last)}
        words = gettext("%(years)s: %(first)s to %(last)s.") % days
        today = gettext("Today is %(day)s.") % {"day": said_day(self.today)} if self.today else ""
        return f"{words} {today}" if today else words

    def head(self, title: str) -> SafeString:
        """Above the rows: the days, today, and the lines that every row takes from here."""
        marks = list(self.marks())
        lines = format_html_join(
            "",
            '<line class="season-week" x1="{0}" y1="0" x2="{0}" y2="100%"/>',
            ((share(self.at(day)),) for day, _ in marks),
        )
        written = format_html_join(
            "",
            '<text class="day tier {}" x="{}" dx="3" y="2.25em">{}</text>'
            '<line class="week tier {}" x1="{}" y1="1.3em" x2="{}" y2="100%"/>',
            (
                (kinds, share(self.at(day)), words, kinds, share(self.at(day)), share(self.at(day)))
                for (day, words), kinds in zip(marks, self._kinds(marks), strict=True)
            ),
        )
        return markup(
            '<svg class="across" role="img" aria-labelledby="{0}-t {0}-d"><title id="{0}-t">{1}</title>'
            '<desc id="{0}-d">{2}</desc><defs><g id="{0}">{3}{4}</g></defs>{5}{6}</svg>',
            self.key, title, self.said, lines, self._today_line("0", "100%"), written, self._today(),
        )  # fmt: skip

    def _kinds(self, marks: list[tuple[date, str]]) -> list[str]:
        """By the breadth at which there is room for it: every second, third ... mark, none too near the right edge.

        Of months every January is among them, which says its year.
        """
        kinds: list[list[str]] = [[] for _ in marks]
        for name, most in _WRITTEN.items():
            stride, begin = -(-len(marks) // most), 0
            if self.by_months:
                stride = next(n for n in (*_PARTS_OF_A_YEAR, stride) if n >= stride)
                begin = next((n for n, (day, _) in enumerate(marks) if day.month == 1), 0) % stride
            for n in range(begin, len(marks), stride):
                if self.at(marks[n][0]) <= 100 - 90 / most or n == 0:
                    kinds[n].append(name)
            if not any(name in names for names in kinds):
                kinds[0].append(name)
        return [" ".join(names) for names in kinds]

    def spaced(self, days: Sequence[date], first: Sequence[int]) -> list[tuple[str, bool]]:
        """Which of the figures on these days are written at each breadth, and whether one stands left of its day.

        ``first``: numbers of the days in the order of their weight; each next one is written where it has room.
        """
        kinds: list[list[str]] = [[] for _ in days]
        ends = [False] * len(days)
        for name, most in _WRITTEN.items():
            room = 92 / most
            taken: list[float] = []
            for n in first:
                at = self.at(days[n])
                ends[n] = ends[n] or at > 86
                begins = at - room if ends[n] else at
                if begins >= 0 and all(abs(begins - other) >= room for other in taken):
                    taken.append(begins)
                    kinds[n].append(name)
        return [(" ".join(names), end) for names, end in zip(kinds, ends, strict=True)]

    def _today_line(self, top: str, foot: str) -> SafeString:
        if self.today is None:
            return SafeString("")
        at = share(self.at(self.today))
        return markup('<line class="season-today" x1="{0}" y1="{1}" x2="{0}" y2="{2}"/>', at, top, foot)

    def _today(self) -> SafeString:
        if self.today is None:
            return SafeString("")
        at, words = self.at(self.today), gettext("today")
        right = at > 50
        return markup(
            '<text class="now {}" x="{}" dx="{}" y="1em">{}</text>{}',
            "end" if right else "start", share(at), -4 if right else 4, words, self._today_line("0.1em", "1.2em"),
        )  # fmt: skip
