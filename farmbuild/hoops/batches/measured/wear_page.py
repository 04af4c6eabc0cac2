"""What the page of a bender's wear shows, and the warnings on the pages of what is bent on it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.measured.findings import Finding, drift_words, due_words, findings_in, rule_words
from farmbuild.hoops.batches.measured.wear import Wear
from farmbuild.hoops.batches.measured.wear_drawing import MARKS, drawn_tubes, wear_drawing


@dataclass(frozen=True)
class WearPage:
    """``state`` of the service in two or three words. ``legend``: (mark, tube) of what is drawn."""

    wear: Wear
    answer: str
    pulls: str
    state: str
    service: str
    findings: list[Finding]
    drift: list[str]
    drawing: SafeString | None
    legend: str
    over: str
    accepted: str


def wear_page(wear: Wear) -> WearPage:
    drawing, tubes = wear_drawing(wear), drawn_tubes(wear)
    pulls = said_count(wear.pulls, "pull")
    legend = "; ".join(f"{mark}: {tube.tube.name}" for mark, tube in zip(MARKS.values(), tubes, strict=False))
    return WearPage(
        wear=wear,
        answer=gettext("%(pulls)s so far; %(service_state)s.") % {"pulls": pulls, "service_state": service_state(wear)},
        pulls=pulls,
        state=service_state(wear),
        service=due_words(wear) if rule_words(wear.bender) else "",
        findings=findings_in(wear),
        # What drifts is said by its finding.
        drift=[drift_words(wear, tube) for tube in wear.tubes if not tube.drifts],
        drawing=drawing,
        legend=legend.capitalize(),
        over=gettext("pulls") if not tubes or tubes[0].over_pulls else gettext("days"),
        accepted=accepted_words(wear, who=True),
    )


def service_state(wear: Wear) -> str:
    if not rule_words(wear.bender):
        return gettext("no rule for its service")
    if wear.due.overdue:
        return gettext("its service is overdue")
    return gettext("its service is due soon") if wear.due.soon else gettext("no service due yet")


def accepted_words(wear: Wear, *, who: bool) -> str:
    """Of the trial hoop that was accepted last: the day, tube and recipe; ``who``: by whom too. Empty without one."""
    trial = wear.accepted
    if trial is None:
        return ""
    by = gettext(" by %(who)s") % {"who": trial.accepted_by.display_name} if who and trial.accepted_by else ""
    recipe = trial.batch.recipe
    return f"{day(trial.at)}{by}: {recipe.tube.name}, {recipe.name}"
