"""What is said of the wind for planned work. It warns or says that it cannot; it never clears anything."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.speaking import said_day
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
NO_CLEARANCE = _("Look at the sky: this is no clearance.")
NO_LIMIT_SET = {
    Work.FILM: _("No wind limit is set for film work. Do not read that as safe: type the maker's limit or your own."),
    Work.LADDER: _(
        "No wind limit is set for ladder work. Do not read that as safe: type the maker's limit or your own."
    ),
}
OLD = _("The entry is over a day old: look at a newer forecast and enter it.")
CHANGED = _("It was typed after the schedule was published: sheets printed before do not show it.")
#: Houses named in one note, sites in one line, and lines of one state on a day; what is left out is counted.
NAMED, SITES, LINES = 3, 8, 12

OVER, BELOW, NO_LIMIT, NO_FORECAST, NO_GUST = "over", "below", _("no limit"), _("no forecast"), _("no gust")


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
    if forecast.gust is None:
        return gettext("Mean wind %(wind)s, no gusts given") % {"wind": say(forecast.wind)}
    said = {"wind": say(forecast.wind), "gust": say(forecast.gust)}
    return gettext("Mean wind %(wind)s, gusts %(gust)s") % said


def limit_words(limit: WindLimit) -> str:
    """25 mph in gusts."""
    speed = speed_words(limit.speed, limit.unit, reader=unit_of(organisation=limit.organisation))
    if limit.measure == WindLimit.Measure.GUST:
        return gettext("%(speed)s in gusts") % {"speed": speed}
    return gettext("%(speed)s mean wind") % {"speed": speed}


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
    names = ", ".join(houses[:NAMED])
    if more <= 0:
        return names
    return gettext("%(names)s and %(count)s more") % {"names": names, "count": format_count(more)}


def _do_not(work: str, place: dict[str, object]) -> str:
    """``place``: the site, and the day where it is not said already."""
    film = Work(work) == Work.FILM
    if "day" in place:
        if film:
            return gettext("Do not put on or take off film at %(site)s on %(day)s.") % place
        return gettext("Do not work from ladders at %(site)s on %(day)s.") % place
    if film:
        return gettext("Do not put on or take off film at %(site)s.") % place
    return gettext("Do not work from ladders at %(site)s.") % place


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
    told = {
        "work": label,
        "site": site,
        "day": said_day(day),
        "forecast": forecast_words(forecast) if forecast else "",
        "limit": limit_words(limit) if limit else "",
    }
    figures = _figures(limit, forecast)
    where = gettext("%(work)s at %(site)s on %(day)s: no wind forecast typed for this day.") % told
    if state == NO_LIMIT:
        said = [NO_LIMIT_SET[Work(work)], where if forecast is None else f"{told['forecast']}."]
    elif state == NO_FORECAST:
        said = [where, gettext("Nothing is compared with the limit of %(limit)s.") % told, NO_CLEARANCE]
    elif state == OVER:
        said = [
            _do_not(work, {"site": site, "day": told["day"]}),
            gettext("%(forecast)s by what was entered; the limit is %(limit)s.") % told,
        ]
    elif state == NO_GUST:
        said = [
            gettext("%(work)s: the limit is %(limit)s, and the forecast gives no gusts, so nothing is compared.")
            % told,
            gettext("Enter a forecast with gusts."),
            NO_CLEARANCE,
        ]
    else:
        said = [gettext("%(work)s: no warning by what was entered.") % told, f"{figures}.", NO_CLEARANCE]
    return WindNote(
        site=site,
        day=day,
        work=work,
        state=state,
        words=" ".join(map(str, [*said, *[CHANGED] * changed, *[OLD] * old])),
        houses=houses_words(houses),
        old=old,
        figures=figures,
        typed=forecast is not None,
        changed=changed,
    )


def _figures(limit: WindLimit | None, forecast: WindForecast | None) -> str:
    if not limit or not forecast:
        return ""
    said = {"forecast": forecast_words(forecast), "limit": limit_words(limit)}
    return gettext("%(forecast)s; the limit is %(limit)s") % said


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
        words = gettext("%(count)s more are over a limit: see the page Wind.")
        lines.append(WindLine(words % {"count": format_count(len(over) - LINES)}, warns=True, over=True))
    if unset := {Work(note.work) for note in notes if note.state == NO_LIMIT}:
        lines.append(WindLine(_unset_words(unset), warns=True))
    if missing := [note for note in notes if not note.typed]:
        words = gettext("%(where)s: no wind forecast typed for this day.") % {"where": _where(missing)}
        lines.append(WindLine(words, warns=False))
    if blank := [note for note in notes if note.state == NO_GUST]:
        words = gettext("%(where)s: the forecast gives no gusts, so nothing is compared.") % {"where": _where(blank)}
        lines.append(WindLine(words, warns=False))
    for note in below[:LINES]:
        words = gettext("%(where)s: no warning by what was entered.") % {"where": _where([note])}
        lines.append(WindLine(f"{words} {note.figures}. {NO_CLEARANCE}", warns=False))
    if len(below) > LINES:
        words = gettext("%(count)s more forecasts are on the page Wind.")
        lines.append(WindLine(words % {"count": format_count(len(below) - LINES)}, warns=False))
    return lines


def _unset_words(works: Collection[Work]) -> str:
    if len(works) > 1:
        return gettext("No wind limit is set for film work or ladder work; do not read that as safe.")
    if Work.FILM in works:
        return gettext("No wind limit is set for film work; do not read that as safe.")
    return gettext("No wind limit is set for ladder work; do not read that as safe.")


def _over_words(note: WindNote) -> str:
    site = f"{note.site} ({note.houses})" if note.houses else note.site
    said = [_do_not(note.work, {"site": site}), f"{note.figures}.", *[CHANGED] * note.changed, *[OLD] * note.old]
    return " ".join(map(str, said))


def _where(notes: Iterable[WindNote]) -> str:
    """Film and ladder work at North Field; ladder work at Creek Bottom."""
    works: defaultdict[Site, list[str]] = defaultdict(list)
    for note in notes:
        works[note.site].append(note.work)
    parts = [_works_at(site, found) for site, found in list(works.items())[:SITES]]
    if len(works) > SITES:
        parts.append(gettext("%(count)s more sites") % {"count": format_count(len(works) - SITES)})
    first, *others = parts
    return "; ".join((first, *(f"{part[:1].lower()}{part[1:]}" for part in others)))


def _works_at(site: Site, works: Collection[str]) -> str:
    if len({*works}) > 1:
        return gettext("Film and ladder work at %(site)s") % {"site": site}
    if Work.FILM in works:
        return gettext("Film work at %(site)s") % {"site": site}
    return gettext("Ladder work at %(site)s") % {"site": site}
