"""Hours as a file."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from django.db.models import OuterRef, Subquery

from farmbuild.crew.hours import selectors
from farmbuild.crew.hours.presenters import TO_CORRECT, Row, other_row, run_row
from farmbuild.crew.models import Actual, HourCorrection
from farmbuild.measure import UnitSystem
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.hours import HourLine, hours_workbook

_CENT = Decimal("0.01")


def hours_file(*, organisation: Organisation) -> tuple[str, bytes]:
    """Name and bytes of a workbook with all hours by day. Hours that are still to correct stand in it with none."""
    day = today_of(organisation=organisation)
    data = hours_workbook(
        lines=_lines(organisation),
        day=day,
        told=f"Runs and other work, up to {day.day} {day:%B %Y}. Hours still to correct count as 0.",
        author=organisation.name,
        units=UnitSystem(organisation.unit_system),
    )
    return f"hours-{day}.xlsx", data


def _lines(organisation: Organisation) -> Iterator[HourLine]:
    last = HourCorrection.objects.filter(actual=OuterRef("pk")).order_by("-pk")
    runs = selectors.shown_runs_of(organisation=organisation).annotate(why=Subquery(last.values("reason")[:1]))
    rows = [*map(run_row, runs), *map(other_row, selectors.other_work_of(organisation=organisation))]
    for row in sorted(rows, key=lambda row: row.record.day):
        yield _line(row)


def _line(row: Row) -> HourLine:
    record = row.record
    run = isinstance(record, Actual)
    hours = Decimal(0) if row.state == TO_CORRECT else (row.hours.minutes / 60).quantize(_CENT)
    return HourLine(
        day=record.day,
        crew=str(record.crew or ""),
        who=row.who,
        house=row.house,
        work=row.work,
        clock=row.clock,
        hours=hours,
        people=row.people,
        done=record.done if run else None,
        state=row.state,
        reason=(record.why or "") if run else "",
    )
