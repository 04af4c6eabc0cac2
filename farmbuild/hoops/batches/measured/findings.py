"""What is wrong with a bender, in sentences that everybody booked may read: no member is named in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from farmbuild.common.lengths import length_text
from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.measured.bridge import Trend
from farmbuild.hoops.batches.measured.wear import TubeTrend, Wear, wear_by_bender
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.models import Organisation

#: What to do about one that drifts.
BEND_ONE = "Bend one hoop and measure it before the stack."


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
        found.append(Finding(bender, f"service:{since}", "Service overdue", due_words(wear)))
    for tube in wear.drifting:
        key = f"drift:{tube.tube.pk}:{since}:{tube.right_since}"
        found.append(Finding(bender, key, "It drifts", f"{drift_words(wear, tube)} {BEND_ONE}"))
    return found


def due_words(wear: Wear) -> str:
    """When the next service is or was due, in sentences."""
    rule, due = rule_words(wear.bender), wear.due
    begins = f"the last service on {day(wear.last.day)}" if wear.last else "its first use here"
    words = [f"{count_noun(wear.since_service, 'pull')} since {begins}; a service is due {rule}."]
    if due.left is not None:
        over = count_noun(-due.left, "pull")
        words.append(f"It is over by {over}." if due.left < 0 else f"{count_noun(due.left, 'pull')} are left.")
    if due.day is not None and (due.passed or not due.overdue):
        words.append(f"It was due by {day(due.day)}." if due.passed else f"By {day(due.day)} at the latest.")
    return " ".join(words)


def rule_words(bender: Bender) -> str:
    """every 5,000 pulls or 12 months, whichever comes first"""
    pulls = bender.service_pulls and f"{format_count(bender.service_pulls)} pulls"
    months = bender.service_months and count_noun(bender.service_months, "month")
    if pulls and months:
        return f"every {pulls} or {months}, whichever comes first"
    return f"every {pulls or months}" if pulls or months else ""


def drift_words(wear: Wear, tube: TubeTrend) -> str:
    """What hoops of one tube tell since the last service, with the spread and the limit."""
    units = wear.bender.organisation.unit_system
    trend = tube.trend
    if trend is None:
        return f"Hoops of {tube.tube.name} since the last service are too few, or of one day alone, to tell of a drift."
    much = _change_words(trend, units)
    over = f"over {count_noun(round(trend.end - trend.start), 'pull' if tube.over_pulls else 'day')}"
    within = f"Single hoops stand up to {length_text(trend.spread, units)} off that; it may change by"
    within += f" {length_text(tube.limit, units)}."
    if tube.over_pulls and (days := tube.by_days):
        within += f" By days: {_change_words(days, units)} over {count_noun(round(days.end - days.start), 'day')}."
    if not tube.changed:
        return f"No drift with {tube.tube.name}: {much} {over}, in {len(trend.readings)} hoops. {within}"
    return f"Radius with {tube.tube.name}: {much} {over}, in {len(trend.readings)} hoops. {within}"


def _change_words(trend: Trend, units: str) -> str:
    return f"{length_text(abs(trend.change), units)} {'wider' if trend.change > 0 else 'tighter'}"
