"""The history of a bender as a text file: each batch's pulls, hoops measured, services."""

from __future__ import annotations

from decimal import Decimal

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

    heads = ["Day", "What", "Pulls", "Pipe", f"Free span, {unit}", f"Rise, {unit}", f"Radius, {unit}", "Who", "Remarks"]
    rows: list[list[Cell]] = [
        [one.day, f"Bent, batch {one.batch}" if one.batch else "Pulls of a member", one.pulls, *[None] * 6]
        for one in wear.made
    ]
    for hoop in wear.hoops:
        if hoop.trial:
            rows.append(_trial(hoop, size))
    for row in MeasuredHoop.objects.filter(bender=bender).select_related("tube", "member", "organisation"):
        rows.append(
            [
                *(row.day, "Hoop of a member" if row.member else "Hoop", None, row.tube.name),
                *(size(row.free_span), size(row.rise), size(row.radius)),
                *(str(row.member or ""), _taken_back(row)),
            ]
        )
    services = ServiceRecord.objects.filter(bender=bender)
    for row in services:
        note = "; ".join(filter(None, (row.parts, _taken_back(row))))
        rows.append([row.day, f"Service: {row.done}", row.pulls, *[None] * 4, row.who, note])
    rows.sort(key=lambda row: str(row[0]))
    if costs:
        cost = {(row.day, f"Service: {row.done}"): row.cost for row in services}
        heads.append(f"Cost, {bender.organisation.currency}")
        rows = [[*row, cost.get((row[0], row[1]))] for row in rows]
    return csv_bytes([heads, *rows])


def _trial(hoop: Hoop, size: object) -> list[Cell]:
    trial = hoop.trial
    state = "accepted" if trial.accepted else "not accepted"
    who = trial.accepted_by or trial.by
    return [
        *(hoop.day, f"Trial hoop {trial.attempt}, {trial.batch}", None, hoop.tube.name),
        *(size(trial.free_span), size(trial.rise), size(trial.effective_radius)),
        *(str(who or ""), state),
    ]


def _taken_back(row: MeasuredHoop | ServiceRecord) -> str:
    return f"taken back: {row.removed_reason}" if row.removed_at else ""
