"""A row a kind of event: a bar a day, as high as often it happened that day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.markup import markup
from farmbuild.common.season_line.axis import Axis, share
from farmbuild.common.speaking import said_count, said_day
from farmbuild.measure import format_count

#: A bar of the busiest day reaches this high, in hundredths of the row; below its foot is the row's line.
_TOP, _FOOT = 12.0, 86.0
#: Days that are said; a reader who wants all of them has the table.
_SAID = 5


@dataclass(frozen=True)
class BarRow:
    """``times``: how often on each day, one entry a day. ``noun``: what happened, in the singular."""

    name: str
    times: tuple[tuple[date, int], ...]
    noun: str
    href: str = ""
    late: bool = False

    @property
    def note(self) -> str:
        return format_count(sum(number for _, number in self.times))

    @property
    def said(self) -> str:
        """The busiest days in words, the first first."""
        busiest = sorted(sorted(self.times, key=lambda one: -one[1])[:_SAID])
        if not busiest:
            return gettext("%(name)s: none.") % {"name": self.name}
        listed = ", ".join(
            gettext("%(number)s on %(day)s") % {"number": format_count(number), "day": said_day(day)}
            for day, number in busiest
        )
        words = {"name": self.name, "all": said_count(sum(n for _, n in self.times), self.noun), "listed": listed}
        return gettext("%(name)s: %(all)s, most of them %(listed)s.") % words


@dataclass(frozen=True)
class BarLine:
    """Rows over one axis and to one scale. ``meaning``: what the height of a bar is."""

    title: str
    rows: Sequence[BarRow]
    today: date
    meaning: str
    noun: str = "row"
    axis: Axis = field(init=False)

    def __post_init__(self) -> None:
        days = [day for row in self.rows for day, _ in row.times]
        object.__setattr__(self, "axis", Axis.over(days, today=self.today))

    def __bool__(self) -> bool:
        return any(row.times for row in self.rows)

    @property
    def head(self) -> SafeString:
        return self.axis.head(self.title)

    @property
    def open_rows(self) -> list[tuple[BarRow, SafeString]]:
        most = max((number for row in self.rows for _, number in row.times), default=1)
        return [(row, self._strip(row, most)) for row in self.rows]

    @property
    def legend(self) -> list[tuple[SafeString, str]]:
        most = max((number for row in self.rows for _, number in row.times), default=0)
        shown = SafeString(
            '<svg class="sample" aria-hidden="true">'
            '<rect class="times" x="45%" y="20%" width="10%" height="66%"/></svg>'
        )
        words = {"meaning": self.meaning, "most": format_count(most)}
        return [(shown, gettext("%(meaning)s, at most %(most)s") % words)]

    def _strip(self, row: BarRow, most: int) -> SafeString:
        wide = 100 / self.axis.days
        bars = format_html_join(
            "",
            '<rect class="times" x="{}" y="{}" width="{}" height="{}"><title>{}</title></rect>',
            (
                (
                    share(self.axis.at(day) + 0.12 * wide),
                    share(_FOOT - (_FOOT - _TOP) * number / most),
                    share(0.76 * wide),
                    share((_FOOT - _TOP) * number / most),
                    gettext("%(number)s on %(day)s") % {"number": said_count(number, row.noun), "day": said_day(day)},
                )
                for day, number in row.times
            ),
        )
        return markup(
            '<svg class="strip" role="img" aria-label="{}"><use href="#{}"/>{}'
            '<line class="times-foot" x1="0" y1="{}" x2="100%" y2="{}"/></svg>',
            row.said, self.axis.key, bars, share(_FOOT), share(_FOOT),
        )  # fmt: skip
