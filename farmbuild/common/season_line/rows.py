"""A row a house: thin while it waits, thick while there is work, flags on the days that bind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import Enum

from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.markup import markup
from farmbuild.common.season_line.axis import Axis, share, short_day
from farmbuild.common.speaking import said, said_day, said_list
from farmbuild.measure.speech import gettext_noop

#: Rows that stand open; the others fold.
OPEN_ROWS = 8


class Sign(Enum):
    """What is drawn of a day, and what it means; paths begin where the day stands on the line, in pixels."""

    ORDER_BY = "order by", "M0 5V-13L-10 -9L0 -5", gettext_noop("order by this day")
    DELIVERY = "delivery", "M0 5V-13L10 -9L0 -5Z", gettext_noop("delivery")
    LIMIT = "limit", "", gettext_noop("needed by this day")

    def __init__(self, css: str, path: str, meaning: str) -> None:
        self.css, self.path, self.marked = css, path, meaning

    @property
    def meaning(self) -> str:
        return said(self.marked)


@dataclass(frozen=True)
class Stretch:
    """Both days are in it."""

    first: date
    last: date

    @property
    def words(self) -> str:
        if self.first == self.last:
            return said_day(self.first)
        return gettext("%(first)s to %(last)s") % {"first": said_day(self.first), "last": said_day(self.last)}


@dataclass(frozen=True)
class Flag:
    """``words``: what is on that day, without the day: Order 1-4 comes."""

    day: date
    sign: Sign
    words: str


@dataclass(frozen=True)
class Row:
    """``note``: two or three words at the right; ``late``: it is a warning. ``more``: said, not drawn."""

    name: str
    href: str
    work: tuple[Stretch, ...] = ()
    flags: tuple[Flag, ...] = ()
    note: str = ""
    late: bool = False
    more: str = ""
    #: It is not there yet, so its line is dashed.
    open: bool = False
    #: It waits from this day on, which has no flag.
    since: date | None = None

    @property
    def limits(self) -> list[date]:
        return [flag.day for flag in self.flags if flag.sign is Sign.LIMIT]

    @property
    def days(self) -> list[date]:
        """On which something happens."""
        days = [*(day for some in self.work for day in (some.first, some.last)), *([self.since] if self.since else [])]
        return days + [flag.day for flag in self.flags if flag.sign is not Sign.LIMIT]

    @property
    def waits(self) -> Stretch | None:
        """From the first day of anything on it to the last; what it is needed by binds, and nothing waits for it."""
        days = self.days
        return Stretch(min(days), max(days)) if len(set(days)) > 1 else None

    @property
    def said(self) -> str:
        """All that is drawn, in words."""
        worked = said_list(some.words for some in self.work)
        parts = [gettext("Work %(days)s") % {"days": worked}] if self.work else []
        parts += [f"{flag.words} {said_day(flag.day)}" for flag in sorted(self.flags, key=lambda flag: flag.day)]
        return ". ".join([*parts, *([self.more] if self.more else [])] or [gettext("No day is known yet")]) + "."


def joined(stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """Those that meet or overlap made one, in order."""
    found: list[Stretch] = []
    for some in sorted(stretches, key=lambda one: (one.first, one.last)):
        if found and some.first <= found[-1].last + timedelta(days=1):
            found[-1] = Stretch(found[-1].first, max(found[-1].last, some.last))
        else:
            found.append(some)
    return tuple(found)


@dataclass(frozen=True)
class SeasonLine:
    """``title`` names it; ``noun``: what a row is, for the fold, such as ``house``. ``orders``: rows under them."""

    title: str
    rows: Sequence[Row]
    today: date
    noun: str = "house"
    limit: str = ""
    orders: Sequence[Row] = ()
    axis: Axis = field(init=False)

    def __post_init__(self) -> None:
        days = [day for row in self._all for day in row.days]
        limits = [day for row in self._all for day in row.limits]
        object.__setattr__(self, "axis", Axis.over(days, today=self.today, limits=limits))

    def __bool__(self) -> bool:
        return bool(self._all)

    @property
    def _all(self) -> list[Row]:
        return [*self.rows, *self.orders]

    @property
    def head(self) -> SafeString:
        return self.axis.head(self.title)

    @property
    def open_rows(self) -> list[tuple[Row, SafeString]]:
        return [(row, self._strip(row)) for row in self.rows[:OPEN_ROWS]]

    @property
    def folded_rows(self) -> list[tuple[Row, SafeString]]:
        return [(row, self._strip(row)) for row in self.rows[OPEN_ROWS:]]

    @property
    def open_orders(self) -> list[tuple[Row, SafeString]]:
        return [(row, self._strip(row)) for row in self.orders[:OPEN_ROWS]]

    @property
    def folded_orders(self) -> list[tuple[Row, SafeString]]:
        return [(row, self._strip(row)) for row in self.orders[OPEN_ROWS:]]

    @property
    def legend(self) -> list[tuple[SafeString, str]]:
        """Signs that stand on it, each with its meaning."""
        found = [(sample("work"), gettext("work"))] if any(row.work for row in self._all) else []
        if any(row.waits and not row.open for row in self._all):
            found.append((sample("wait"), gettext("waiting")))
        if any(row.waits and row.open for row in self._all):
            found.append((sample("wait dash"), gettext("not sent yet")))
        used = {flag.sign for row in self._all for flag in row.flags}
        for sign in Sign:
            if sign in used:
                found.append((sign_sample(sign), (sign is Sign.LIMIT and self.limit) or sign.meaning))
        return found

    def _strip(self, row: Row) -> SafeString:
        parts = []
        if row.waits:
            parts.append(self._across(row.waits, "wait dash" if row.open else "wait"))
        parts += [self._across(some, "work") for some in row.work]
        flags = format_html_join("", "{}", ((self._flag(flag),) for flag in row.flags))
        return markup(
            '<svg class="strip" role="img" aria-label="{}"><use href="#{}"/>{}{}</svg>',
            row.said, self.axis.key, format_html_join("", "{}", ((part,) for part in parts)), flags,
        )  # fmt: skip

    def _across(self, some: Stretch, css: str) -> SafeString:
        """Work fills its last day; who waits does so up to the day."""
        end = some.last + timedelta(days=1) if css == "work" else some.last
        return markup(
            '<line class="{}" x1="{}" y1="64%" x2="{}" y2="64%"/>',
            css, share(self.axis.at(some.first)), share(self.axis.at(end)),
        )  # fmt: skip

    def _flag(self, flag: Flag) -> SafeString:
        at = share(self.axis.at(flag.day))
        title = f"{flag.words} {said_day(flag.day)}"
        if flag.sign is Sign.LIMIT and (edge := self.axis.edge(flag.day)):
            return self._far(flag.day, edge, title)
        if flag.sign is Sign.LIMIT:
            return markup(
                '<g><title>{1}</title><line class="limit" x1="{0}" y1="0" x2="{0}" y2="100%"/></g>', at, title
            )
        return markup(
            '<svg class="flag" x="{}" y="64%"><title>{}</title><path class="{}" d="{}"/></svg>',
            at, title, flag.sign.css, flag.sign.path,
        )  # fmt: skip

    def _far(self, day: date, edge: str, title: str) -> SafeString:
        """A limit past the edge, named at it; the year where it is another than the last one drawn."""
        words = short_day(day) if day.year == self.axis.last.year else f"{short_day(day)} {day.year}"
        at, back, said = ("100%", -6, f"{words} →") if edge == "end" else ("0", 6, f"← {words}")
        return markup(
            '<g><title>{0}</title><line class="limit far" x1="{1}" y1="0" x2="{1}" y2="100%"/>'
            '<text class="far {2}" x="{1}" dx="{3}" y="64%" dy="0.36em">{4}</text></g>',
            title, at, edge, back, said,
        )  # fmt: skip


def sample(css: str) -> SafeString:
    return markup(
        '<svg class="sample" aria-hidden="true"><line class="{}" x1="0" y1="64%" x2="100%" y2="64%"/></svg>', css
    )


def sign_sample(sign: Sign) -> SafeString:
    if sign is Sign.LIMIT:
        return SafeString(
            '<svg class="sample" aria-hidden="true"><line class="limit" x1="50%" y1="0" x2="50%" y2="100%"/></svg>'
        )
    return markup(
        '<svg class="sample" aria-hidden="true"><svg class="flag" x="50%" y="74%"><path class="{}" d="{}"/>'
        "</svg></svg>",
        sign.css, sign.path,
    )  # fmt: skip
