"""What the page of a fit shows: moves, shifts, what stays off, drawing and table rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.utils.safestring import SafeString

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.hoops.fits.bridge import RidgeSight, step_of
from farmbuild.hoops.fits.drawings import RidgeDrawing
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.sighted import HoopRow, sight_fit, sighted_rows
from farmbuild.hoops.fits.words import Words
from farmbuild.measure import format_decimal, join_words, noun_for

#: A ridge further than this from the line is more often a slip of the tape than of the hoop: 6 in.
_DOUBTFUL = Decimal("152.4")


@dataclass(frozen=True)
class FitPage:
    fit: HouseFit
    sight: RidgeSight
    rows: list[HoopRow]
    not_measured: str
    answer: str
    moves: list[str]
    shifts: list[str]
    stays: list[str]
    notes: list[str]
    line: str
    figures: list[Figure]
    drawing: SafeString
    scale: str

    @property
    def total(self) -> Decimal:
        return sum((abs(row.move) for row in self.rows), Decimal(0))


def hoop_numbers(numbers: Iterable[int]) -> str:
    """hoop 4; hoops 4 and 6; hoops 1, 4 to 9 and 12. Empty for none."""
    ordered = sorted(numbers)
    runs = [[number for _, number in run] for _, run in groupby(enumerate(ordered), lambda pair: pair[1] - pair[0])]
    parts = []
    for run in runs:
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    return f"{noun_for(len(ordered), 'hoop')} {join_words(parts)}" if parts else ""


def fit_page(fit: HouseFit, *, units: str) -> FitPage | None:
    """``fit`` comes with its readings and house loaded; None for a fit without readings."""
    readings = list(fit.readings.all())
    if not readings:
        return None
    sight = sight_fit(readings, fit, units)
    rows = sighted_rows(readings, fit, sight)
    words = Words(fit, rows, sight.reachable, units)
    missing = hoop_numbers(set(range(1, fit.hoops + 1)) - {row.hoop for row in rows})
    drawing = RidgeDrawing(rows, fit.tolerance, words.line, units)
    doubtful = [row.hoop for row in rows if abs(row.before) > fit.tolerance + _DOUBTFUL]
    notes = []
    if missing:
        are = "was not measured and is" if missing.startswith("hoop ") else "were not measured and are"
        notes.append(f"{missing.capitalize()} {are} left out.")
    if doubtful:
        notes.append(
            f"Measure {hoop_numbers(doubtful)} again before anything is moved: so far off is more often a slip of the"
            " tape."
        )
    return FitPage(
        fit=fit,
        sight=sight,
        rows=rows,
        not_measured=missing,
        answer=words.answer(),
        moves=words.moves(),
        shifts=words.shifts(),
        stays=words.stays(),
        notes=notes,
        line=words.line,
        figures=_figures(fit, rows, sight, words, units),
        drawing=drawing.svg(),
        scale=drawing.scale_words,
    )


def _figures(fit: HouseFit, rows: list[HoopRow], sight: RidgeSight, words: Words, units: str) -> list[Figure]:
    step = length_text(step_of(units), units)
    first, last = rows[0], rows[-1]
    total = sum((abs(row.move) for row in rows), Decimal(0))
    aim = (
        f"every ridge height within {length_text(fit.tolerance, units)} of {words.line}"
        if sight.reachable
        else "no moves bringing all hoops within the tolerance, and the least that they stay outside it put first"
    )
    fixed = "The height of the line is free and its slope is given" if fit.slope is not None else "The line is free"
    return [
        Figure(
            f"Line at hoop {first.hoop}",
            f"{fixed}: it lies where the least moving is needed. Above the level line that the heights are measured"
            " from.",
            length=first.line,
        ),
        Figure(
            f"Line at hoop {last.hoop}",
            f"{length_text(first.line, units)} + slope {format_decimal(sight.slope, 5)} x"
            f" {length_text(last.place - first.place, units)}.",
            length=last.line,
        ),
        Figure(
            "Least moving in all",
            f"A linear program: the least sum of all moves, each within the room its posts leave, with {aim}.",
            length=to_decimal(sight.exact_total),
        ),
        Figure(
            "Moving in all, as asked for",
            f"Each move taken up to whole steps of {step}, the smallest that is set by hand (common practice, no"
            " source), then every hoop checked again.",
            length=total,
        ),
        Figure(
            "Furthest off after the moves",
            f"The largest distance from the line over {len(rows)} hoops, each height with its move.",
            length=max(abs(row.after) for row in rows),
        ),
    ]
