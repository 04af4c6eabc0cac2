"""Hours downward, for a phone: one crew on one day, its strokes beside the clock and the words beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha1

from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.markup import markup
from farmbuild.common.remembered import drawn_once
from farmbuild.crew.schedule.strokes.picture import Row, Worked
from farmbuild.crew.schedule.strokes.wrapping import label

#: In pixels of a phone: the sheet, its letters, an hour, the tallest that a day may be, the ruler, and a stroke.
WIDE, LETTER, HOUR, TALLEST, RULER, LONG = 340.0, 13.0, 42.0, 560.0, 42.0, 24.0
#: From stroke to stroke, from line to line of words, and from column to column of strokes.
PITCH, LINE, COLUMN = 3.6, 16.0, 30.0
_TOP = 12.0


@dataclass(frozen=True)
class _Placed:
    entry: Worked
    column: int
    top: float
    bottom: float
    lines: list[tuple[str, str]]
    #: Where the words begin, beside the strokes or below the words before.
    words: float


def an_hour(row: Row) -> float:
    return _hour(row) / PITCH


def _hour(row: Row) -> float:
    return min(HOUR, TALLEST / row.hours.length)


def _figure(value: float) -> str:
    return str(round(value, 1))


class _Sheet:
    def __init__(self, row: Row) -> None:
        self.row, self.hour = row, _hour(row)
        self.placed = list(self._places())
        self.columns = 1 + max((one.column for one in self.placed), default=0)

    def y(self, when: datetime) -> float:
        return _TOP + self.row.hours.at(when) * self.hour

    def _columns(self) -> dict[int, int]:
        """Where two tasks are planned at the same time, each has strokes of its own."""
        ends: list[datetime] = []
        found = {}
        for entry in self.row.entries:
            runs = entry.on(self.row.day)
            column = next((n for n, end in enumerate(ends) if end <= runs[0].starts), len(ends))
            ends[column : column + 1] = [runs[-1].ends]
            found[entry.task.pk] = column
        return found

    @property
    def beside(self) -> float:
        return RULER + 10 + COLUMN * (1 + max(self._columns().values(), default=0))

    def _places(self) -> Iterator[_Placed]:
        columns, free, left = self._columns(), 0.0, self.beside
        for entry in self.row.entries:
            runs = entry.on(self.row.day)
            top, bottom = self.y(runs[0].starts), self.y(runs[-1].ends)
            group = entry.group(entry.strokes(an_hour(self.row)).each)
            told = ", ".join(filter(None, (entry.progress, group)))
            lines = label(entry.step, f"{entry.house}: {told}", (WIDE - left) / LETTER)
            words = max(top, free)
            free = words + len(lines) * LINE + 6
            yield _Placed(entry, columns[entry.task.pk], top, bottom, lines, words)

    def svg(self) -> SafeString:
        row = self.row
        high = max([_TOP + row.hours.length * self.hour, *(one.words + len(one.lines) * LINE for one in self.placed)])
        key = "v" + sha1(f"{row.title}{row.said}".encode()).hexdigest()[:10]
        inside = mark_safe("".join((self._clock(), *map(self._entry, self.placed), self._now())))
        return markup(
            '<svg class="down" role="group" viewBox="0 0 {0} {1}" aria-labelledby="{2}-t" aria-describedby="{2}-d">'
            '<title id="{2}-t">{3}</title><desc id="{2}-d">{4}</desc>{5}</svg>',
            _figure(WIDE), _figure(high + 8), key, row.title, row.said, inside,
        )  # fmt: skip

    def _clock(self) -> str:
        row, now = self.row, self._now_at()
        foot = _TOP + row.hours.length * self.hour
        marks = [(_TOP + at * self.hour, words) for at, words in row.hours.marks]
        ticks = format_html_join(
            "",
            '<line x1="{0}" x2="{1}" y1="{2}" y2="{2}"/>',
            ((_figure(RULER - 5), _figure(RULER), _figure(y)) for y, _ in marks),
        )
        # The word of the tick takes the place of the hour that it would touch.
        figures = format_html_join(
            "",
            '<text class="end" x="{}" y="{}">{}</text>',
            (
                (_figure(RULER - 9), _figure(y + 4.5), words)
                for y, words in marks
                if now is None or abs(y - now) > LETTER + 2
            ),
        )
        line = markup('<line x1="{0}" x2="{0}" y1="{1}" y2="{2}"/>', *map(_figure, (RULER, _TOP, foot)))
        return markup('<g class="ruler">{}{}</g>{}', line, ticks, figures)

    def _entry(self, placed: _Placed) -> SafeString:
        entry, left = placed.entry, self.beside
        base = RULER + placed.column * COLUMN
        texts = format_html_join(
            "",
            '<text class="{}" x="{}" y="{}">{}</text>',
            (
                (
                    (gettext("start %(kind)s") % {"kind": kind}).strip(),
                    _figure(left),
                    _figure(placed.words + (n + 0.75) * LINE),
                    words,
                )
                for n, (kind, words) in enumerate(placed.lines)
            ),
        )
        runs = format_html_join(
            "",
            '<line class="run" x1="{0}" x2="{0}" y1="{1}" y2="{2}"/>',
            (
                (_figure(base), _figure(self.y(run.starts) + 1.5), _figure(self.y(run.ends) - 1.5))
                for run in entry.on(self.row.day)
            ),
        )
        leader = mark_safe("")
        if placed.words > placed.top + 1:
            ends = (base + LONG + 1, placed.top, left - 4, placed.words + LINE / 2)
            leader = markup('<line class="leader" x1="{}" y1="{}" x2="{}" y2="{}"/>', *map(_figure, ends))
        high = max(len(placed.lines) * LINE, 24.0)
        hit = markup(
            '<rect class="hit" x="{}" y="{}" width="{}" height="{}"/>',
            _figure(left - 3), _figure(placed.words - 3), _figure(WIDE - left + 3), _figure(high + 3),
        )  # fmt: skip
        return markup(
            '<a href="{}" aria-label="{}">{}{}{}{}{}</a>',
            entry.href, entry.said(self.row.day), hit, texts, runs, leader, self._strokes(entry, base),
        )  # fmt: skip

    def _strokes(self, entry: Worked, base: float) -> SafeString:
        found = entry.strokes(an_hour(self.row))
        inside = [(mark, _figure(self.y(mark.at))) for mark in entry.marks_on(self.row.day, found)]
        line = '<line x1="{0}" x2="{1}" y1="{2}" y2="{2}"/>'
        thin = ((_figure(base), _figure(base + LONG), y) for mark, y in inside if mark.share < 1)
        heavy = ((_figure(base), _figure(base + LONG * mark.share), y) for mark, y in inside if mark.share > 0)
        return markup(
            '<g class="to-do" data-task="{0}" data-each="{1}">{2}</g><g class="done" data-task="{0}">{3}</g>',
            entry.task.pk, found.each, format_html_join("", line, thin), format_html_join("", line, heavy),
        )  # fmt: skip

    def _now_at(self) -> float | None:
        now = self.row.now
        return self.y(now) if now is not None and self.row.hours.has(now) else None

    def _now(self) -> SafeString:
        at = self._now_at()
        if at is None:
            return mark_safe("")
        return markup(
            '<line class="now" x1="{0}" x2="{1}" y1="{2}" y2="{2}"/><text class="now end" x="{3}" y="{4}">{5}</text>',
            _figure(RULER - 4), _figure(self.beside - 6), _figure(at), _figure(RULER - 9), _figure(at + 4.5),
            gettext("now"),
        )  # fmt: skip


@drawn_once
def sheet(row: Row) -> SafeString:
    return _Sheet(row).svg()
