"""A row a material: how many are there at the end of each day, as a stepped line over the days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext, pgettext

from farmbuild.common.markup import markup
from farmbuild.common.season_line.axis import Axis, share, short_day
from farmbuild.common.season_line.rows import OPEN_ROWS, Sign, sample, sign_sample
from farmbuild.common.speaking import said_day
from farmbuild.measure import format_count, format_signed

#: Where the highest and the lowest level stand, in hundredths of the height.
_TOP, _LOW = 30.0, 82.0
#: The same of what runs short: the day is written above it, clear of flags.
_TOP_SHORT, _LOW_SHORT = 58.0, 90.0
#: The same of a large one, with its figures over the level and what comes and goes under it.
_TOP_LARGE, _LOW_LARGE, _CHANGES = 24.0, 70.0, 94.0


@dataclass(frozen=True)
class Level:
    """``ends``: what is there at the end of each day on which it changes, from today on, below 0 what is missing.

    ``large``: drawn high, with its figures; then ``alone`` is what would be there if nothing came.
    """

    name: str
    href: str
    ends: tuple[tuple[date, int], ...]
    arrivals: tuple[tuple[date, int], ...] = ()
    needs: tuple[tuple[date, int], ...] = ()
    short_on: date | None = None
    note: str = ""
    large: bool = False
    alone: tuple[tuple[date, int], ...] = ()

    @property
    def days(self) -> list[date]:
        return [day for some in (self.ends, self.arrivals, self.needs) for day, _ in some]

    @property
    def moves(self) -> bool:
        return len(self.ends) > 1 or self.short_on is not None

    @property
    def said(self) -> str:
        """All that is drawn, in words."""

        def listed(some: Sequence[tuple[date, int]]) -> str:
            return ", ".join(_on(pieces, day) for day, pieces in some)

        parts = [gettext("There at the end of the day: %(levels)s") % {"levels": listed(self.ends)}]
        if self.arrivals:
            parts.append(gettext("Comes: %(days)s") % {"days": listed(self.arrivals)})
        if self.needs:
            parts.append(gettext("Needed: %(days)s") % {"days": listed(self.needs)})
        return ". ".join(parts) + "."


@dataclass(frozen=True)
class LevelLine:
    title: str
    rows: Sequence[Level]
    today: date
    noun: str = "material"
    axis: Axis = field(init=False)

    def __post_init__(self) -> None:
        days = [day for row in self.rows for day in row.days]
        object.__setattr__(self, "axis", Axis.over(days, today=self.today))

    def __bool__(self) -> bool:
        return bool(self.rows)

    @property
    def head(self) -> SafeString:
        return self.axis.head(self.title)

    @property
    def _ranked(self) -> list[Level]:
        """In their order, what runs short and what moves before what stays as it is."""
        return sorted(self.rows, key=lambda row: (not row.large, row.short_on is None, not row.moves))

    @property
    def open_rows(self) -> list[tuple[Level, SafeString]]:
        return [(row, self._strip(row)) for row in self._ranked[:OPEN_ROWS]]

    @property
    def folded_rows(self) -> list[tuple[Level, SafeString]]:
        return [(row, self._strip(row)) for row in self._ranked[OPEN_ROWS:]]

    @property
    def legend(self) -> list[tuple[SafeString, str]]:
        found = [(sample("level"), gettext("pieces there")), (sample("zero"), gettext("none there"))]
        if any(row.short_on for row in self.rows):
            found.append((sample("level short"), gettext("missing")))
        if any(row.alone for row in self.rows):
            found.append((sample("level dash"), gettext("if nothing more came")))
        if any(row.arrivals for row in self.rows):
            found.append((sign_sample(Sign.DELIVERY), Sign.DELIVERY.meaning))
        if any(row.needs for row in self.rows):
            found.append((SafeString(
                '<svg class="sample" aria-hidden="true"><line class="need" x1="50%" y1="40%" x2="50%" y2="90%"/></svg>'
            ), pgettext("of pieces", "needed")))  # fmt: skip
        return found

    def _strip(self, row: Level) -> SafeString:
        pieces = [n for _, n in (*row.ends, *row.alone)]
        top, low = max(0, *pieces), min(0, *pieces)
        tall = (top - low) or 1
        head, foot = (_TOP_SHORT, _LOW_SHORT) if row.short_on else (_TOP, _LOW)
        if row.large:
            head, foot = _TOP_LARGE, _LOW_LARGE

        def up(pieces: int) -> float:
            return foot - (pieces - low) / tall * (foot - head)

        ways = self._ways(row.alone, up, "level dash") + self._ways(row.ends, up, "level")
        zero = up(0)
        lines = format_html_join(
            "",
            '<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>',
            ((css, x1, share(y1), x2, share(y2)) for css, x1, y1, x2, y2 in ways),
        )
        css = "tall large" if row.large else "tall warned" if row.short_on else "tall"
        figures = self._figures(row, up) if row.large else ""
        marks = markup("{}{}{}{}", self._needs(row, zero), self._arrivals(row, zero), self._short(row), figures)
        return markup(
            '<svg class="strip {}" role="img" aria-label="{}"><use href="#{}"/>'
            '<line class="zero" x1="0" y1="{}" x2="100%" y2="{}"/>{}{}</svg>',
            css, row.said, self.axis.key, share(zero), share(zero), lines, marks,
        )  # fmt: skip

    def _ways(
        self, ends: Sequence[tuple[date, int]], up: Callable[[int], float], css: str
    ) -> list[tuple[str, str, float, str, float]]:
        """Upright to each level, and level to the next day."""
        ways: list[tuple[str, str, float, str, float]] = []
        for n, (day, pieces) in enumerate(ends):
            kind = f"{css} short" if pieces < 0 and css == "level" else css
            at = share(self.axis.at(day))
            until = share(self.axis.at(ends[n + 1][0])) if n + 1 < len(ends) else "100%"
            if n:
                ways.append((kind, at, up(ends[n - 1][1]), at, up(pieces)))
            ways.append((kind, at, up(pieces), until, up(pieces)))
        return ways

    def _figures(self, row: Level, up: Callable[[int], float]) -> SafeString:
        """Over each level its pieces, and in a line under all of them what came or went on the day."""
        days = [day for day, _ in row.ends]
        least = min((n for _, n in row.ends), default=0)
        first = sorted(range(len(days)), key=lambda n: (n > 0, days[n] != row.short_on, row.ends[n][1] != least, n))
        net: dict[date, int] = {}
        for sign, some in ((1, row.arrivals), (-1, row.needs)):
            for day, pieces in some:
                net[day] = net.get(day, 0) + sign * pieces
        written = []
        for (day, pieces), (kinds, end) in zip(row.ends, self.axis.spaced(days, first), strict=True):
            # Clear of the flag of what comes.
            place = (share(self.axis.at(day)), -4 if end else 14 if day in dict(row.arrivals) else 4)
            css = f"figure tier {kinds}{' end' if end else ''}"
            written.append((f"{css} less" if pieces < 0 else css, *place, share(up(pieces)), -5, _figure(pieces)))
            if net.get(day):
                written.append((css, *place, share(_CHANGES), 0, format_signed(net[day])))
        return format_html_join("", '<text class="{}" x="{}" dx="{}" y="{}" dy="{}">{}</text>', written)

    def _needs(self, row: Level, zero: float) -> SafeString:
        return format_html_join(
            "",
            '<svg class="flag" x="{}" y="{}"><title>{}</title><path class="need" d="M0 0V7"/></svg>',
            (
                (share(self.axis.at(day)), share(zero), _dated(gettext("Needed %(day)s: %(pieces)s"), day, pieces))
                for day, pieces in row.needs
            ),
        )

    def _arrivals(self, row: Level, zero: float) -> SafeString:
        return format_html_join(
            "",
            '<svg class="flag" x="{}" y="{}"><title>{}</title><path class="delivery" d="{}"/></svg>',
            (
                (
                    share(self.axis.at(day)),
                    share(zero),
                    _dated(gettext("Comes %(day)s: %(pieces)s"), day, pieces),
                    Sign.DELIVERY.path,
                )
                for day, pieces in row.arrivals
            ),
        )

    def _short(self, row: Level) -> SafeString:
        if row.short_on is None:
            return SafeString("")
        # The day itself ends short, so its mark stands where it begins.
        at = self.axis.at(row.short_on)
        right = at > 50
        words = gettext("short %(day)s") % {"day": short_day(row.short_on)}
        return markup(
            '<line class="short-day" x1="{0}" y1="0" x2="{0}" y2="100%"/>'
            '<text class="short {1}" x="{0}" dx="{2}" y="1em">{3}</text>',
            share(at), "end" if right else "start", -4 if right else 4, words,
        )  # fmt: skip


def _on(pieces: int, day: date) -> str:
    if pieces < 0:
        return _dated(gettext("%(pieces)s short on %(day)s"), day, -pieces)
    return _dated(gettext("%(pieces)s on %(day)s"), day, pieces)


def _dated(words: str, day: date, pieces: int) -> str:
    return words % {"day": said_day(day), "pieces": format_count(pieces)}


def _figure(pieces: int) -> str:
    return format_count(pieces).replace("-", "−")
