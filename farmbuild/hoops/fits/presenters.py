"""What the page of a fit shows: moves, shifts, what stays off, drawing and table rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_text, to_decimal
from farmbuild.common.speaking import said_list, said_noun
from farmbuild.hoops.fits.bridge import RidgeSight, step_of
from farmbuild.hoops.fits.drawings import RidgeDrawing
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.sighted import HoopRow, sight_fit, sighted_rows
from farmbuild.hoops.fits.words import Words
from farmbuild.measure import format_decimal

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
        parts += (
            [gettext("%(first)s to %(last)s") % {"first": run[0], "last": run[-1]}]
            if len(run) > 2
            else [str(number) for number in run]
        )
    return f"{said_noun(len(ordered), 'hoop')} {said_list(parts)}" if parts else ""


def fit_page(fit: HouseFit, *, units: str) -> FitPage | None:
    """``fit`` comes with its readings and house loaded; None for a fit without readings."""
    readings = list(fit.readings.all())
    if not readings:
        return None
    sight = sight_fit(readings, fit, units)
    rows = sighted_rows(readings, fit, sight)
    words = Words(fit, rows, sight.reachable, units)
    missing = set(range(1, fit.hoops + 1)) - {row.hoop for row in rows}
    drawing = RidgeDrawing(rows, fit.tolerance, words.line, units)
    doubtful = [row.hoop for row in rows if abs(row.before) > fit.tolerance + _DOUBTFUL]
    notes = []
    if missing:
        left_out = ngettext(
            "%(hoops)s was not measured and is left out.", "%(hoops)s were not measured and are left out.", len(missing)
        )
        notes.append(left_out % {"hoops": hoop_numbers(missing).capitalize()})
    if doubtful:
        notes.append(
            gettext(
                "Measure %(hoop_numbers)s again before anything is moved: so far off is more often a slip of the tape."
            )
            % {"hoop_numbers": hoop_numbers(doubtful)}
        )
    return FitPage(
        fit=fit,
        sight=sight,
        rows=rows,
        not_measured=hoop_numbers(missing),
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
        gettext("every ridge height within %(tolerance)s of %(line)s")
        % {"tolerance": length_text(fit.tolerance, units), "line": words.line}
        if sight.reachable
        else gettext(
            "no moves bringing all hoops within the tolerance, and the least that they stay outside it put first"
        )
    )
    fixed = (
        gettext("The height of the line is free and its slope is given")
        if fit.slope is not None
        else gettext("The line is free")
    )
    return [
        Figure(
            gettext("Line at hoop %(hoop)s") % {"hoop": first.hoop},
            gettext(
                "%(fixed)s: it lies where the least moving is needed. Above the level line that the heights "
                "are measured from."
            )
            % {"fixed": fixed},
            length=first.line,
        ),
        Figure(
            gettext("Line at hoop %(hoop)s") % {"hoop": last.hoop},
            gettext("%(line)s + slope %(slope)s x %(place)s.")
            % {
                "line": length_text(first.line, units),
                "slope": format_decimal(sight.slope, 5),
                "place": length_text(last.place - first.place, units),
            },
            length=last.line,
        ),
        Figure(
            gettext("Least moving in all"),
            gettext("A linear program: the least sum of all moves, each within the room its posts leave, with %(aim)s.")
            % {"aim": aim},
            length=to_decimal(sight.exact_total),
        ),
        Figure(
            gettext("Moving in all, as asked for"),
            gettext(
                "Each move taken up to whole steps of %(step)s, the smallest that is set by hand (common "
                "practice, no source), then every hoop checked again."
            )
            % {"step": step},
            length=total,
        ),
        Figure(
            gettext("Furthest off after the moves"),
            gettext("The largest distance from the line over %(rows)s hoops, each height with its move.")
            % {"rows": len(rows)},
            length=max(abs(row.after) for row in rows),
        ),
    ]
