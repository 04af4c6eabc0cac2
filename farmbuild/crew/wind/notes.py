"""What is said of the wind for planned work. It warns or says that it cannot; it never clears anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from farmbuild.common.templatetags.farm import day as day_words
from farmbuild.crew.models import Kind, WindForecast, WindLimit
from farmbuild.crew.wind.speeds import in_kmh, speed_words
from farmbuild.sites.models import Site

Work = WindLimit.Work
#: Work done high up, and work with a sheet in the hands (common practice, no source).
KINDS: dict[Work, frozenset[str]] = {
    Work.FILM: frozenset({Kind.FILM}),
    Work.LADDER: frozenset({Kind.SET, Kind.SIGHT, Kind.RIDGE, Kind.FILM}),
}
#: Beyond this an entry is said to be old.
FRESH = timedelta(days=1)
NO_CLEARANCE = "Look at the sky: this is no clearance."
DO_NOT = {Work.FILM: "Do not put on or take off film", Work.LADDER: "Do not work from ladders"}
OLD = " The entry is over a day old: look at a newer forecast and enter it."
#: Houses named in one note.
NAMED = 3

OVER, BELOW, NO_LIMIT, NO_FORECAST, NO_GUST = "over", "below", "no limit", "no forecast", "no gust"


@dataclass(frozen=True)
class WindNote:
    """``state``: over, below, no limit, no forecast or no gust. ``words``: whole sentences. ``houses``: named work."""

    site: Site
    day: date
    work: str
    state: str
    words: str
    houses: str = ""
    old: bool = False

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
    gust = "no gusts given" if forecast.gust is None else f"gusts {speed_words(forecast.gust, forecast.unit)}"
    return f"Mean wind {speed_words(forecast.wind, forecast.unit)}, {gust}"


def limit_words(limit: WindLimit) -> str:
    """25 mph in gusts."""
    measure = "in gusts" if limit.measure == WindLimit.Measure.GUST else "mean wind"
    return f"{speed_words(limit.speed, limit.unit)} {measure}"


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
    return ", ".join(houses[:NAMED]) + (f" and {more:,} more" if more > 0 else "")


def note_of(
    *,
    site: Site,
    day: date,
    work: str,
    limit: WindLimit | None,
    forecast: WindForecast | None,
    now: datetime,
    houses: Sequence[str],
) -> WindNote:
    state, label = compare(limit, forecast), Work(work).label
    old = forecast is not None and is_old(forecast, now)
    missing = f"No forecast is entered for {site} on {day_words(day)}."
    if state == NO_LIMIT:
        words = (
            f"No wind limit is set for {label.lower()}. Do not read that as safe: type the maker's limit or your own."
        )
        words += f" {missing}" if forecast is None else f" {forecast_words(forecast)}."
    elif state == NO_FORECAST:
        words = f"{label}: {missing} Nothing is compared with the limit of {limit_words(limit)}. {NO_CLEARANCE}"
    elif state == OVER:
        words = f"{DO_NOT[Work(work)]} at {site} on {day_words(day)}. {forecast_words(forecast)}"
        words += f" by what was entered; the limit is {limit_words(limit)}."
    elif state == NO_GUST:
        words = f"{label}: the limit is {limit_words(limit)}, and the forecast gives no gusts, so nothing is compared."
        words += f" Enter a forecast with gusts. {NO_CLEARANCE}"
    else:
        words = (
            f"{label}: no warning by what was entered. {forecast_words(forecast)}; the limit is {limit_words(limit)}."
        )
        words += f" {NO_CLEARANCE}"
    return WindNote(
        site=site, day=day, work=work, state=state, words=words + OLD * old, houses=houses_words(houses), old=old
    )
