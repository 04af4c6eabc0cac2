"""What is said of the wind for planned work. It warns or says that it cannot; it never clears anything."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial

from farmbuild.common.templatetags.farm import day as day_words
from farmbuild.crew.bridge import OF_WORK, WorkKind
from farmbuild.crew.models import WindForecast, WindLimit
from farmbuild.crew.wind.speeds import in_kmh, speed_words, unit_of
from farmbuild.measure import format_count
from farmbuild.sites.models import Site

Work = WindLimit.Work
#: Work whose cautions say so: film in calm air, and work from ladders.
KINDS: dict[Work, frozenset[str]] = {
    work: frozenset(kind.value for kind in WorkKind if caution in OF_WORK[kind])
    for work, caution in ((Work.FILM, "wind"), (Work.LADDER, "ladder"))
}
#: Beyond this an entry is said to be old.
FRESH = timedelta(days=1)
NO_CLEARANCE = "Look at the sky: this is no clearance."
DO_NOT = {Work.FILM: "Do not put on or take off film", Work.LADDER: "Do not work from ladders"}
OLD = " The entry is over a day old: look at a newer forecast and enter it."
CHANGED = " It was typed after the schedule was published: sheets printed before do not show it."
MISSING = "no wind forecast typed for this day"
#: Houses named in one note, sites in one line, and lines of one state on a day; what is left out is counted.
NAMED, SITES, LINES = 3, 8, 12

OVER, BELOW, NO_LIMIT, NO_FORECAST, NO_GUST = "over", "below", "no limit", "no forecast", "no gust"


@dataclass(frozen=True)
class WindNote:
    """``state``: over, below, no limit, no forecast or no gust. ``words``: whole sentences, ``figures``: forecast
    against limit, ``houses``: named work. ``typed``: a forecast is there; ``changed``: after the last publishing.
    """

    site: Site
    day: date
    work: str
    state: str
    words: str
    houses: str = ""
    old: bool = False
    figures: str = ""
    typed: bool = False
    changed: bool = False

    @property
    def warns(self) -> bool:
        """To be shown as a warning: over the limit, or no limit to be over."""
        return self.state in (OVER, NO_LIMIT)

    @property
    def over(self) -> bool:
        return self.state == OVER


def is_old(forecast: WindForecast, now: datetime) -> bool:
    return now - forecast.entered_at > FRESH


def forecast_words(forecast: WindForecast) -> str:
    """Mean wind 12 mph, gusts 20 mph."""
    say = partial(speed_words, unit=forecast.unit, reader=unit_of(organisation=forecast.organisation))
    gust = "no gusts given" if forecast.gust is None else f"gusts {say(forecast.gust)}"
    return f"Mean wind {say(forecast.wind)}, {gust}"


def limit_words(limit: WindLimit) -> str:
    """25 mph in gusts."""
    measure = "in gusts" if limit.measure == WindLimit.Measure.GUST else "mean wind"
    speed = speed_words(limit.speed, limit.unit, reader=unit_of(organisation=limit.organisation))
    return f"{speed} {measure}"


def compare(limit: WindLimit | None, forecast: WindForecast | None) -> str:
    """One of the states. Exactly the limit is over it; a mean wind over a limit of gusts is over it too."""
    if limit is None:
        return NO_LIMIT
    if forecast is None:
        return NO_FORECAST
    by_gust = limit.measure == WindLimit.Measure.GUST
    blows = forecast.gust if by_gust and forecast.gust is not None else forecast.wind
    if in_kmh(blows, forecast.unit) >= in_kmh(limit.speed, limit.unit):
        return OVER
    return NO_GUST if by_gust and forecast.gust is None else BELOW


def houses_words(houses: Sequence[str]) -> str:
    more = len(houses) - NAMED
    return ", ".join(houses[:NAMED]) + (f" and {format_count(more)} more" if more > 0 else "")


def note_of(
    *,
    site: Site,
    day: date,
    work: str,
    limit: WindLimit | None,
    forecast: WindForecast | None,
    now: datetime,
    houses: Sequence[str],
    published: datetime | None = None,
) -> WindNote:
    """``published``: when the schedule that people follow was."""
    state, label = compare(limit, forecast), Work(work).label
    old = forecast is not None and is_old(forecast, now)
    changed = state == OVER and published is not None and forecast.entered_at > published
    where = f"{label} at {site} on {day_words(day)}: {MISSING}."
    figures = f"{forecast_words(forecast)}; the limit is {limit_words(limit)}" if limit and forecast else ""
    if state == NO_LIMIT:
        words = (
            f"No wind limit is set for {label.lower()}. Do not read that as safe: type the maker's limit or your own."
        )
        words += f" {where}" if forecast is None else f" {forecast_words(forecast)}."
    elif state == NO_FORECAST:
        words = f"{where} Nothing is compared with the limit of {limit_words(limit)}. {NO_CLEARANCE}"
    elif state == OVER:
        words = f"{DO_NOT[Work(work)]} at {site} on {day_words(day)}. {forecast_words(forecast)}"
        words += f" by what was entered; the limit is {limit_words(limit)}."
    elif state == NO_GUST:
        words = f"{label}: the limit is {limit_words(limit)}, and the forecast gives no gusts, so nothing is compared."
        words += f" Enter a forecast with gusts. {NO_CLEARANCE}"
    else:
        words = f"{label}: no warning by what was entered. {figures}. {NO_CLEARANCE}"
    return WindNote(
        site=site,
        day=day,
        work=work,
        state=state,
        words=words + CHANGED * changed + OLD * old,
        houses=houses_words(houses),
        old=old,
        figures=figures,
        typed=forecast is not None,
        changed=changed,
    )


@dataclass(frozen=True)
class WindLine:
    """What stands of one or several notes of a day where there is little room, as on the sheet of a week."""

    words: str
    warns: bool
    over: bool = False


def lines_of(notes: Iterable[WindNote]) -> list[WindLine]:
    """Notes of one day: those over a limit by themselves and first, the others together by what they say."""
    notes = list(notes)
    over = [note for note in notes if note.over]
    below = [note for note in notes if note.state == BELOW]
    lines = [WindLine(_over_words(note), warns=True, over=True) for note in over[:LINES]]
    if len(over) > LINES:
        lines.append(
            WindLine(
                f"{format_count(len(over) - LINES)} more are over a limit: see the page Wind.", warns=True, over=True
            )
        )
    if unset := list(dict.fromkeys(Work(note.work).label for note in notes if note.state == NO_LIMIT)):
        words = f"No wind limit is set for {' or '.join(unset).lower()}; do not read that as safe."
        lines.append(WindLine(words, warns=True))
    if missing := [note for note in notes if not note.typed]:
        lines.append(WindLine(f"{_where(missing)}: {MISSING}.", warns=False))
    if blank := [note for note in notes if note.state == NO_GUST]:
        lines.append(WindLine(f"{_where(blank)}: the forecast gives no gusts, so nothing is compared.", warns=False))
    for note in below[:LINES]:
        words = f"{_where([note])}: no warning by what was entered. {note.figures}. {NO_CLEARANCE}"
        lines.append(WindLine(words, warns=False))
    if len(below) > LINES:
        lines.append(WindLine(f"{format_count(len(below) - LINES)} more forecasts are on the page Wind.", warns=False))
    return lines


def _over_words(note: WindNote) -> str:
    houses = f" ({note.houses})" if note.houses else ""
    return f"{DO_NOT[Work(note.work)]} at {note.site}{houses}. {note.figures}.{CHANGED * note.changed}{OLD * note.old}"


def _where(notes: Iterable[WindNote]) -> str:
    """Film and ladder work at North Field; ladder work at Creek Bottom."""
    works: defaultdict[Site, list[str]] = defaultdict(list)
    for note in notes:
        works[note.site].append(note.work)
    words = "; ".join(f"{' and '.join(found)} work at {site}" for site, found in list(works.items())[:SITES])
    words += f"; {format_count(len(works) - SITES)} more sites" if len(works) > SITES else ""
    return words[:1].upper() + words[1:]
