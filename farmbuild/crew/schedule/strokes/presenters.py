"""The picture of days as a page shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from farmbuild.common.speaking import said_list
from farmbuild.crew.models import Task
from farmbuild.crew.people.selectors import crews_of
from farmbuild.crew.schedule import selectors
from farmbuild.crew.schedule.strokes import across, down
from farmbuild.crew.schedule.strokes.picture import Day, picture_of
from farmbuild.crew.schedule.strokes.pieces import Shifts
from farmbuild.orgs.answers.kept import GOODS, Answers
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

#: Ems of a week's strips from which paper has smaller letters, so that it stays one sheet; and from which letters that
#: can be read take more of them.
SIZES = ((125.0, "more-sheets"), (58.0, "very-many"), (48.0, "many"))


def present() -> datetime:
    return timezone.now()


def shown(
    *,
    organisation: Organisation,
    tasks: Sequence[Task],
    days: Sequence[date],
    chosen: date,
    shifts: Mapping[int, Mapping[int, Shifts]],
    wind: Mapping[date, Any] | None = None,
    crews: Mapping[int, str] | None = None,
    answers: Answers | None = None,
) -> dict[str, Any]:
    """``wind``: what is said of it on a day; ``crews``: those that are said to be free, by default all in use.

    ``answers``: where days without the tick of now are kept, of a page that draws all of their tasks.
    """
    if crews is None:
        crews = dict(crews_of(organisation=organisation).values_list("pk", "name"))
    found = picture_of(
        tasks,
        days,
        chosen=chosen,
        zone=zone_of(organisation=organisation),
        now=present(),
        shifts=shifts,
        closed=selectors.closed_days(organisation=organisation),
        crews=crews,
    )

    def drawn(day: Day) -> dict[str, Any]:
        if answers is None or day.now:
            return _day(day)
        return answers.get("crew strokes", lambda: _day(day), days[0], len(days), day.day, without=GOODS)

    shown_days = [drawn(day) | {"chosen": day.chosen, "wind": (wind or {}).get(day.day, ())} for day in found.days]
    high = sum(day["high"] for day in shown_days)
    return {
        "days": shown_days,
        "left_out": found.left_out,
        "any": any(day.rows for day in found.days),
        "size": next((name for most, name in SIZES if high > most), ""),
    }


def _day(day: Day) -> dict[str, Any]:
    strips = [across.strip(row) for row in day.rows]
    return {
        "day": day.day,
        "count": len({entry.task.pk for row in day.rows for entry in row.entries}),
        "clock": across.head(day),
        "rows": [(row.crew, svg, down.sheet(row)) for row, (svg, _) in zip(day.rows, strips, strict=True)],
        "high": sum(high for _, high in strips),
        "free": said_list(day.free),
        "now": day.now_words,
    }
