"""Hours across: a row of a crew, its tasks in words over their strokes.

Across, all is a share of the width, as on the season line; upright, all is in ems. Words are given room for the
narrowest strip that the style sheet shows, so that nothing touches on a broader one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from hashlib import sha1

from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.markup import markup
from farmbuild.common.remembered import drawn_once
from farmbuild.crew.schedule.strokes.picture import Day, Row, Worked
from farmbuild.crew.schedule.strokes.pieces import Hours
from farmbuild.crew.schedule.strokes.wrapping import label

#: The strip in ems of its letters, and the least room for words, their distance and the distance of strokes, in them.
STRIP, LEAST, GAP, PITCH = 63.0, 10.0, 0.8, 0.36
_LINE, _TALL, _UNDER = 1.15, 1.2, 0.6


def share(hours: float, axis: Hours) -> str:
    return _percent(hours / axis.length)


def _percent(part: float) -> str:
    return f"{round(part * 100, 2)}%"


def _em(value: float) -> str:
    return f"{round(value, 2)}em"


@dataclass
class _Placed:
    """A task in a lane: from ``starts`` to ``ends`` its strokes, at ``left`` its words, in ems of the strip."""

    entry: Worked
    starts: float
    ends: float
    left: float
    room: float = 0.0

    @property
    def at_the_end(self) -> bool:
        """It begins so late that its words end where the strip does."""
        return self.starts > STRIP - LEAST


def _lanes(row: Row) -> list[list[_Placed]]:
    """Tasks one after the other, their words somewhere over their own strokes; on another line where they overlap."""
    ems = STRIP / row.hours.length
    lanes: list[list[_Placed]] = []
    for entry in row.entries:
        runs = entry.on(row.day)
        starts, ends = row.hours.at(runs[0].starts) * ems, row.hours.at(runs[-1].ends) * ems
        wanted = min(starts, STRIP - LEAST)
        for lane in lanes:
            last = lane[-1]
            left = max(wanted, last.left + LEAST + GAP)
            if last.ends <= starts + 1e-6 and left <= max(wanted, min(ends - 3, STRIP - LEAST)):
                lane.append(_Placed(entry, starts, ends, left))
                break
        else:
            lanes.append([_Placed(entry, starts, ends, wanted)])
    for lane in lanes:
        for n, placed in enumerate(lane):
            placed.room = (lane[n + 1].left - GAP if n + 1 < len(lane) else STRIP) - placed.left
    return lanes


def head(day: Day) -> SafeString:
    """The clock over the rows of a day, and on it the word of the tick; read to nobody, since each row tells both."""
    hours, now, line = day.hours, mark_safe(""), 1.0
    if day.now and hours.has(day.now):
        at, line = hours.at(day.now), 2.3
        anchor = "start" if at < 1 else "end" if at > hours.length - 1 else "middle"
        told = gettext("now %(time)s") % {"time": f"{day.now.astimezone(hours.zone):%H:%M}"}
        now = markup('<text class="now {}" x="{}" y="1em">{}</text>', anchor, share(at, hours), told)
    figures = format_html_join(
        "", '<text x="{}" y="{}">{}</text>', ((share(at, hours), _em(line), words) for at, words in hours.marks)
    )
    high = _em(line + 0.3)
    return markup('<svg class="clock" aria-hidden="true" height="{}">{}{}</svg>', high, figures, now)


@drawn_once
def strip(row: Row) -> tuple[SafeString, float]:
    """One crew on one day, and how many ems high it is."""
    parts, top = [], 0.0
    for lane in _lanes(row):
        words = {placed.entry.task.pk: _label(placed, row) for placed in lane}
        foot = top + max(len(lines) for lines in words.values()) * _LINE
        base = foot + 0.3 + _TALL
        parts.append(_ruler(row.hours, base))
        parts += [_entry(placed, words[placed.entry.task.pk], row, foot, base) for placed in lane]
        parts.append(_now(row, base))
        top = base + _UNDER
    key = "a" + sha1(f"{row.title}{row.said}".encode()).hexdigest()[:10]
    svg = markup(
        '<svg class="strip" role="group" height="{0}" aria-labelledby="{1}-t" aria-describedby="{1}-d">'
        '<title id="{1}-t">{2}</title><desc id="{1}-d">{3}</desc>{4}</svg>',
        _em(top), key, row.title, row.said, mark_safe("".join(parts)),
    )  # fmt: skip
    return svg, top


def an_hour(row: Row) -> float:
    """How many strokes an hour has room for."""
    return STRIP / row.hours.length / PITCH


def _label(placed: _Placed, row: Row) -> list[tuple[str, str]]:
    entry = placed.entry
    group = entry.group(entry.strokes(an_hour(row)).each)
    told = ", ".join(filter(None, (entry.progress, group)))
    return label(entry.step, f"{entry.house}: {told}", placed.room)


def _ruler(hours: Hours, base: float) -> SafeString:
    ticks = format_html_join(
        "",
        '<line x1="{0}" x2="{0}" y1="{1}" y2="{2}"/>',
        ((share(at, hours), _em(base + 0.15), _em(base + 0.45)) for at, _ in hours.marks),
    )
    return markup('<g class="ruler"><line x1="0" x2="100%" y1="{0}" y2="{0}"/>{1}</g>', _em(base + 0.15), ticks)


def _entry(placed: _Placed, lines: list[tuple[str, str]], row: Row, foot: float, base: float) -> SafeString:
    """``foot``: where the words end, however many lines they take; they stand next to their strokes."""
    entry, hours = placed.entry, row.hours
    top = foot - len(lines) * _LINE
    at, end = _percent(placed.left / STRIP), " end" if placed.at_the_end else ""
    texts = format_html_join(
        "",
        '<text class="{}" x="{}" y="{}">{}</text>',
        (
            (f"{kind}{end}".strip(), "100%" if end else at, _em(top + (n + 0.95) * _LINE), words)
            for n, (kind, words) in enumerate(lines)
        ),
    )
    runs = format_html_join(
        "",
        '<line class="run" x1="{0}" x2="{1}" y1="{2}" y2="{2}"/>',
        (
            (share(hours.at(run.starts), hours), _percent(hours.at(run.ends) / hours.length - 0.003), _em(base))
            for run in entry.on(row.day)
        ),
    )
    width = min(placed.room, max(placed.ends - placed.left, LEAST))
    hit = markup(
        '<rect class="hit" x="{}" y="{}" width="{}" height="{}"/>',
        at, _em(top), _percent(width / STRIP), _em(base - top + 0.3),
    )  # fmt: skip
    return markup(
        '<a href="{}" aria-label="{}">{}{}{}{}</a>',
        entry.href, entry.said(row.day), hit, texts, runs, _strokes(entry, row, base),
    )  # fmt: skip


def _strokes(entry: Worked, row: Row, base: float) -> SafeString:
    found = entry.strokes(an_hour(row))
    inside = entry.marks_on(row.day, found)
    thin = ((_x(mark.at, row), _em(base - _TALL), _em(base)) for mark in inside if mark.share < 1)
    heavy = ((_x(mark.at, row), _em(base - _TALL * mark.share), _em(base)) for mark in inside if mark.share > 0)
    line = '<line x1="{0}" x2="{0}" y1="{1}" y2="{2}"/>'
    return markup(
        '<g class="to-do" data-task="{0}" data-each="{1}">{2}</g><g class="done" data-task="{0}">{3}</g>',
        entry.task.pk, found.each, format_html_join("", line, thin), format_html_join("", line, heavy),
    )  # fmt: skip


def _x(when: datetime, row: Row) -> str:
    return share(row.hours.at(when), row.hours)


def _now(row: Row, base: float) -> SafeString:
    """A bold tick with the word, over the strokes that it crosses."""
    if row.now is None or not row.hours.has(row.now):
        return mark_safe("")
    at = row.hours.at(row.now)
    return markup(
        '<line class="now" x1="{0}" x2="{0}" y1="{1}" y2="{2}"/>',
        share(at, row.hours), _em(base - _TALL - 0.2), _em(base + 0.5),
    )  # fmt: skip
