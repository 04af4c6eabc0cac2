"""The history of a bender as a text file: each batch's pulls, hoops measured, services."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext

from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.hoops.batches.measured.wear import Hoop, Wear
from farmbuild.measure import INCH_MM, UnitSystem
from farmbuild.workbooks.plain_text import Cell, csv_bytes


def history_csv(wear: Wear, *, costs: bool) -> bytes:
    """By day; what was taken back stands in it with its reason. ``costs``: with what services cost."""
    bender = wear.bender
    unit = "in" if bender.organisation.unit_system == UnitSystem.IMPERIAL else "mm"

    def size(length: Decimal | float) -> Decimal:
        exact = Decimal(str(length))
        return (exact / INCH_MM).quantize(Decimal("0.01")) if unit == "in" else exact.quantize(Decimal("0.1"))

    heads = [
        gettext("Day"),
        gettext("What"),
        gettext("Pulls"),
        gettext("Pipe"),
        gettext("Free span, %(unit)s") % {"unit": unit},
        gettext("Rise, %(unit)s") % {"unit": unit},
        gettext("Radius, %(unit)s") % {"unit": unit},
        gettext("Who"),
        gettext("Remarks"),
    ]
    rows: list[list[Cell]] = [
        [
            one.day,
            gettext("Bent, batch %(batch)s") % {"batch": one.batch} if one.batch else gettext("Pulls of a member"),
            one.pulls,
            *[None] * 6,
        ]
        for one in wear.made
    ]
    for hoop in wear.hoops:
        if hoop.trial:
            rows.append(_trial(hoop, size))
    for row in MeasuredHoop.objects.filter(bender=bender).select_related("tube", "member", "organisation"):
        rows.append(
            [
                *(row.day, gettext("Hoop of a member") if row.member else gettext("Hoop"), None, row.tube.name),
                *(size(row.free_span), size(row.rise), size(row.radius)),
                *(str(row.member or ""), _taken_back(row)),
            ]
        )
    services = ServiceRecord.objects.filter(bender=bender)
    for row in services:
        note = "; ".join(filter(None, (row.parts, _taken_back(row))))
        rows.append([row.day, gettext("Service: %(done)s") % {"done": row.done}, row.pulls, *[None] * 4, row.who, note])
    rows.sort(key=lambda row: str(row[0]))
    if costs:
        cost = {(row.day, gettext("Service: %(done)s") % {"done": row.done}): row.cost for row in services}
        heads.append(gettext("Cost, %(currency)s") % {"currency": bender.organisation.currency})
        rows = [[*row, cost.get((row[0], row[1]))] for row in rows]
    return csv_bytes([heads, *rows])


def _trial(hoop: Hoop, size: object) -> list[Cell]:
    trial = hoop.trial
    state = gettext("accepted") if trial.accepted else gettext("not accepted")
    who = trial.accepted_by or trial.by
    return [
        *(
            hoop.day,
            gettext("Trial hoop %(attempt)s, %(batch)s") % {"attempt": trial.attempt, "batch": trial.batch},
            None,
            hoop.tube.name,
        ),
        *(size(trial.free_span), size(trial.rise), size(trial.effective_radius)),
        *(str(who or ""), state),
    ]


def _taken_back(row: MeasuredHoop | ServiceRecord) -> str:
    return gettext("taken back: %(removed_reason)s") % {"removed_reason": row.removed_reason} if row.removed_at else ""
