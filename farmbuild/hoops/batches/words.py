"""What a batch says in its first line, and what is to be done next."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.reading import units_of
from farmbuild.hoops.batches.bridge import Judgement, Verdict, judge_trial
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.selectors import latest_trial, sticks_to_issue, unbent_sticks
from farmbuild.measure import count_noun, format_count, format_decimal

VERDICTS = {
    Verdict.ACCEPTED: _("within tolerance"),
    Verdict.OVER_BENT: _("over-bent"),
    Verdict.UNDER_BENT: _("under-bent"),
    Verdict.NOT_AN_ARC: _("not a true arc"),
    Verdict.TWISTED: _("twisted"),
}


def again_words(trial: TrialHoop) -> str:
    """What was done to the sticks of ``trial`` where the next trial hoop is bent of them."""
    if trial.verdict == Verdict.OVER_BENT:
        return "opened and pulled again"
    return "pulled further" if trial.verdict == Verdict.UNDER_BENT else "bent or measured again"


def sticks_words(batch: HoopBatch, trial: TrialHoop, before: TrialHoop | None) -> str:
    """Which sticks ``trial`` was bent of; ``before`` is the trial hoop before it, if any."""
    fresh = trial.fresh_sticks
    if fresh is None:
        return "Not recorded."
    new = f"{count_noun(fresh, 'fresh stick')}"
    if before is None or fresh >= batch.sticks_a_hoop:
        return f"{new}."
    again = f"{batch.sticks_a_hoop - fresh} of trial hoop {before.attempt}, {again_words(before)}."
    return f"{new} and {again}" if fresh else again


def outside_words(batch: HoopBatch, trial: TrialHoop) -> str:
    """How far a trial hoop that was accepted outside the tolerance is off, who accepted it and why; else empty."""
    if not trial.accepted_outside:
        return ""
    units = units_of(batch.organisation)
    off = trial.free_span - trial.target_span
    told = {
        "number": trial.attempt,
        "verdict": gettext(VERDICTS[Verdict(trial.verdict)]),
        "who": trial.accepted_by.display_name if trial.accepted_by else "",
        "span": length_text(trial.free_span, units),
        "off": length_text(abs(off), units),
        "reason": trial.accept_reason,
    }
    accepted = (
        gettext("Trial hoop %(number)s, %(verdict)s, was accepted outside the tolerance by %(who)s:")
        if trial.accepted_by
        else gettext("Trial hoop %(number)s, %(verdict)s, was accepted outside the tolerance:")
    )
    if not off:
        span = gettext("its free span is %(span)s, as wanted.")
    elif off > 0:
        span = gettext("its free span is %(span)s, %(off)s more than wanted.")
    else:
        span = gettext("its free span is %(span)s, %(off)s less than wanted.")
    reason = gettext("Reason: %(reason)s")
    return " ".join((accepted, span, reason)) % told


@dataclass(frozen=True)
class NextStep:
    """A page to go to."""

    label: str
    url: str


@dataclass(frozen=True)
class BatchStatus:
    """Where a batch stands, in a sentence, and the next step."""

    answer: str
    step: NextStep


def _page(name: str, batch: HoopBatch, *more: object) -> str:
    return reverse(f"hoops:{name}", args=[batch.number, *more])


def _before_the_rest(batch: HoopBatch) -> str:
    rest = batch.quantity - 1
    return f" before bending the other {format_count(rest)}" if rest else ""


def status_of(batch: HoopBatch) -> BatchStatus:
    """``batch`` comes with recipe and organisation loaded."""
    if batch.state == HoopBatch.State.TRIAL:
        return _in_trial(batch)
    return _past_the_gate(batch)


def _in_trial(batch: HoopBatch) -> BatchStatus:
    trial, before = latest_trial(batch=batch), _before_the_rest(batch)
    gap = length_text(batch.stop_gap, batch.organisation.unit_system)
    if trial and trial.verdict == Verdict.ACCEPTED and not trial.spoilt_sticks:
        return BatchStatus(
            f"{batch}: trial hoop not accepted yet; number {trial.attempt} is within tolerance. Accept it{before}.",
            NextStep(f"Look at trial hoop {trial.attempt} and accept it", _page("batch-attempt", batch, trial.attempt)),
        )
    missing = batch.trial_sticks_missing
    last = f" Number {trial.attempt} was {VERDICTS[Verdict(trial.verdict)]}." if trial else ""
    if missing > 0:
        return BatchStatus(
            f"{batch}: trial hoop not accepted yet.{last} It takes {count_noun(missing, 'stick')};"
            f" bend it with a stop gap of {gap}, and measure it{before}.",
            NextStep(f"Issue {count_noun(missing, 'stick')} for the trial hoop", _page("batch-issue", batch)),
        )
    if trial and batch.stop_gap == trial.stop_gap:
        return BatchStatus(
            f"{batch}: trial hoop not accepted yet.{last} See what to change{before}.",
            NextStep(
                f"See what to change after trial hoop {trial.attempt}", _page("batch-attempt", batch, trial.attempt)
            ),
        )
    return BatchStatus(
        f"{batch}: trial hoop not accepted yet;{last.lower().rstrip('.') + ', so' if last else ''} bend one with"
        f" a stop gap of {gap} and measure it{before}.",
        NextStep(f"Measure trial hoop {batch.next_attempt}", _page("batch-trial", batch)),
    )


def _past_the_gate(batch: HoopBatch) -> BatchStatus:
    left, unbent = batch.hoops_left, unbent_sticks(batch=batch)
    hoops, gap = count_noun(batch.quantity, "hoop"), length_text(batch.stop_gap, batch.organisation.unit_system)
    if batch.state == HoopBatch.State.DONE:
        short = f", {format_count(left)} fewer than wanted" if left else ""
        return BatchStatus(
            f"{batch} is done: {count_noun(batch.hoops_bent, 'hoop')} bent{short}.",
            NextStep("See the bending sheet", _page("batch-sheet", batch)),
        )
    if left:
        answer = (
            f"{batch} is proven: {format_count(batch.hoops_bent)} of {hoops} bent,"
            f" {format_count(left)} to go, stop gap {gap}."
        )
        if unbent >= batch.sticks_a_hoop:
            return BatchStatus(answer, NextStep("Record bent hoops", _page("batch-bent", batch)))
        needed = sticks_to_issue(batch=batch)
        return BatchStatus(answer, NextStep(f"Issue {count_noun(needed, 'stick')}", _page("batch-issue", batch)))
    answer = f"{batch}: all {hoops} are bent."
    if unbent:
        return BatchStatus(
            f"{answer} {count_noun(unbent, 'stick')} {'is' if unbent == 1 else 'are'} not bent.",
            NextStep(f"Return {count_noun(unbent, 'stick')}", _page("batch-give-back", batch)),
        )
    return BatchStatus(answer, NextStep("Finish the batch", _page("batch-finish", batch)))


@dataclass(frozen=True)
class Verdicts:
    """A judged trial hoop: ``answer`` first, then why, then what to change."""

    answer: str
    cause: str
    change: str
    judgement: Judgement


def verdict_of(batch: HoopBatch, trial: TrialHoop) -> Verdicts:
    units, judgement = batch.organisation.unit_system, judge_trial(batch, trial)
    off = trial.free_span - trial.target_span
    way = "more" if off > 0 else "less"
    name = f"Trial hoop {trial.attempt}"
    if judgement.verdict == Verdict.TWISTED:
        answer = f"{name} is twisted: one end lifts {length_text(trial.twist or 0, units)} out of plane."
    elif judgement.verdict == Verdict.NOT_AN_ARC:
        answer = (
            f"{name} is not a true arc: it rises {length_text(trial.rise, units)}, and an arc of its span rises"
            f" {length_text(judgement.rise_of_arc, units)}."
        )
    elif judgement.verdict == Verdict.ACCEPTED:
        how = f"{length_text(abs(off), units)} {way} than" if off else "just"
        answer = (
            f"{name} is within tolerance: its free span is {how} the {length_text(trial.target_span, units)} wanted."
        )
    else:
        answer = (
            f"{name} is {judgement.verdict} by {length_text(abs(off), units)}: its free span is"
            f" {length_text(trial.free_span, units)}, and {length_text(trial.target_span, units)} is wanted."
        )
    return Verdicts(answer, judgement.cause, _change(batch, judgement), judgement)


def can_correct(batch: HoopBatch, judgement: Judgement) -> bool:
    """Whether a stop gap between flat and one pitch puts the hoop right or nearer."""
    return judgement.gap_after is not None and judgement.gap_after < float(batch.recipe.pitch)


def _change(batch: HoopBatch, judgement: Judgement) -> str:
    units = batch.organisation.unit_system
    if judgement.more_a_pull is None or judgement.gap_after is None or judgement.span_after is None:
        return "The stop gap cannot correct this. Check marks, sticks and bender against the recipe."
    if judgement.verdict == Verdict.ACCEPTED:
        return (
            "Nothing needs to change. To come nearer still, use a stop gap of"
            f" {length_pair_text(judgement.gap_after, units)}: the same marks then give a free"
            f" span of {length_text(judgement.span_after, units)}."
        )
    degrees = judgement.degrees_more_a_pull or 0.0
    turned = f"Each pull turned {format_decimal(abs(degrees), 2)}° too {'far' if degrees < 0 else 'little'}."
    if not can_correct(batch, judgement):
        return f"{turned} The stop gap cannot correct this. Check marks, sticks and bender against the recipe."
    short = "" if judgement.gap_after else " The bender cannot go further: set the marks closer together."
    return (
        f"{turned} Use a stop gap of {length_pair_text(judgement.gap_after, units)}: the same marks then give"
        f" a free span of {length_pair_text(judgement.span_after, units)}.{short}"
    )
