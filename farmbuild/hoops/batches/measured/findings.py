"""What is wrong with a bender, in sentences that everybody booked may read: no member is named in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.measured.bridge import Trend
from farmbuild.hoops.batches.measured.wear import TubeTrend, Wear, wear_by_bender
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation

#: What to do about one that drifts.
BEND_ONE = _("Bend one hoop and measure it before the stack.")


@dataclass(frozen=True)
class Finding:
    """``key`` stays while the same thing is wrong, and is another once it is wrong again."""

    bender: Bender
    key: str
    title: str
    words: str


def findings_of(*, organisation: Organisation, benders: Sequence[Bender]) -> dict[int, list[Finding]]:
    """By key, those of which something is to be said."""
    found = {}
    for key, wear in wear_by_bender(organisation=organisation, benders=benders).items():
        if findings := findings_in(wear):
            found[key] = findings
    return found


def findings_in(wear: Wear) -> list[Finding]:
    """That a service is overdue, and each tube for which it drifts."""
    bender, since = wear.bender, wear.last.pk if wear.last else 0
    found = []
    if wear.due.overdue:
        found.append(Finding(bender, f"service:{since}", gettext("Service overdue"), due_words(wear)))
    for tube in wear.drifting:
        key = f"drift:{tube.tube.pk}:{since}:{tube.right_since}"
        found.append(Finding(bender, key, gettext("It drifts"), f"{drift_words(wear, tube)} {BEND_ONE}"))
    return found


def due_words(wear: Wear) -> str:
    """When the next service is or was due, in sentences."""
    rule, due = rule_words(wear.bender), wear.due
    begins = (
        gettext("the last service on %(last_day)s") % {"last_day": day(wear.last.day)}
        if wear.last
        else gettext("its first use here")
    )
    words = [
        gettext("%(since_service)s since %(begins)s; a service is due %(rule)s.")
        % {"since_service": said_count(wear.since_service, "pull"), "begins": begins, "rule": rule}
    ]
    if due.left is not None:
        over = said_count(-due.left, "pull")
        words.append(
            gettext("It is over by %(over)s.") % {"over": over}
            if due.left < 0
            else gettext("%(left)s are left.") % {"left": said_count(due.left, "pull")}
        )
    if due.day is not None and (due.passed or not due.overdue):
        words.append(
            gettext("It was due by %(due_day)s.") % {"due_day": day(due.day)}
            if due.passed
            else gettext("By %(due_day)s at the latest.") % {"due_day": day(due.day)}
        )
    return " ".join(words)


def rule_words(bender: Bender) -> str:
    """every 5,000 pulls or 12 months, whichever comes first"""
    pulls = bender.service_pulls and gettext("%(service_pulls)s pulls") % {
        "service_pulls": format_count(bender.service_pulls)
    }
    months = bender.service_months and said_count(bender.service_months, "month")
    if pulls and months:
        return gettext("every %(pulls)s or %(months)s, whichever comes first") % {"pulls": pulls, "months": months}
    return gettext("every %(value)s") % {"value": pulls or months} if pulls or months else ""


def drift_words(wear: Wear, tube: TubeTrend) -> str:
    """What hoops of one tube tell since the last service, with the spread and the limit."""
    units = wear.bender.organisation.unit_system
    trend = tube.trend
    if trend is None:
        return gettext(
            "Hoops of %(tube)s since the last service are too few, or of one day alone, to tell of a drift."
        ) % {"tube": tube.tube.name}
    much = _change_words(trend, units)
    over = gettext("over %(end)s") % {
        "end": said_count(round(trend.end - trend.start), "pull" if tube.over_pulls else "day")
    }
    within = gettext("Single hoops stand up to %(spread)s off that; it may change by") % {
        "spread": length_text(trend.spread, units)
    }
    within += f" {length_text(tube.limit, units)}."
    if tube.over_pulls and (days := tube.by_days):
        within += gettext(" By days: %(days)s over %(end)s.") % {
            "days": _change_words(days, units),
            "end": said_count(round(days.end - days.start), "day"),
        }
    if not tube.changed:
        return gettext("No drift with %(tube)s: %(much)s %(over)s, in %(readings)s hoops. %(within)s") % {
            "tube": tube.tube.name,
            "much": much,
            "over": over,
            "readings": len(trend.readings),
            "within": within,
        }
    return gettext("Radius with %(tube)s: %(much)s %(over)s, in %(readings)s hoops. %(within)s") % {
        "tube": tube.tube.name,
        "much": much,
        "over": over,
        "readings": len(trend.readings),
        "within": within,
    }


def _change_words(trend: Trend, units: str) -> str:
    return f"{length_text(abs(trend.change), units)} {'wider' if trend.change > 0 else 'tighter'}"
