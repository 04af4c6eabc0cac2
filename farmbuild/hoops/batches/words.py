"""What a batch says in its first line, and what is to be done next."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_noop as _

from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.reading import units_of
from farmbuild.common.speaking import said, said_count
from farmbuild.hoops.batches.bridge import Judgement, Verdict, judge_trial
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.selectors import latest_trial, sticks_to_issue, unbent_sticks
from farmbuild.measure import format_count, format_decimal

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
        return gettext("opened and pulled again")
    return gettext("pulled further") if trial.verdict == Verdict.UNDER_BENT else gettext("bent or measured again")


def sticks_words(batch: HoopBatch, trial: TrialHoop, before: TrialHoop | None) -> str:
    """Which sticks ``trial`` was bent of; ``before`` is the trial hoop before it, if any."""
    fresh = trial.fresh_sticks
    if fresh is None:
        return gettext("Not recorded.")
    new = said_count(fresh, "fresh stick")
    if before is None or fresh >= batch.sticks_a_hoop:
        return f"{new}."
    again = gettext("%(sticks_a_hoop)s of trial hoop %(attempt)s, %(before)s.") % {
        "sticks_a_hoop": batch.sticks_a_hoop - fresh,
        "attempt": before.attempt,
        "before": again_words(before),
    }
    return gettext("%(new)s and %(again)s") % {"new": new, "again": again} if fresh else again


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
    return gettext(" before bending the other %(rest)s") % {"rest": format_count(rest)} if rest else ""


def status_of(batch: HoopBatch) -> BatchStatus:
    """``batch`` comes with recipe and organisation loaded."""
    if batch.state == HoopBatch.State.TRIAL:
        return _in_trial(batch)
    return _past_the_gate(batch)


def _in_trial(batch: HoopBatch) -> BatchStatus:
    trial, before = latest_trial(batch=batch), _before_the_rest(batch)
    gap = length_text(batch.stop_gap, units_of(batch.organisation))
    if trial and trial.verdict == Verdict.ACCEPTED and not trial.spoilt_sticks:
        return BatchStatus(
            gettext(
                "%(batch)s: trial hoop not accepted yet; number %(attempt)s is within tolerance. Accept it%(before)s."
            )
            % {"batch": batch, "attempt": trial.attempt, "before": before},
            NextStep(
                gettext("Look at trial hoop %(attempt)s and accept it") % {"attempt": trial.attempt},
                _page("batch-attempt", batch, trial.attempt),
            ),
        )
    missing = batch.trial_sticks_missing
    last = (
        gettext(" Number %(attempt)s was %(verdicts)s.")
        % {"attempt": trial.attempt, "verdicts": gettext(VERDICTS[Verdict(trial.verdict)])}
        if trial
        else ""
    )
    if missing > 0:
        return BatchStatus(
            gettext(
                "%(batch)s: trial hoop not accepted yet.%(last)s It takes %(missing)s; bend it with a "
                "stop gap of %(gap)s, and measure it%(before)s."
            )
            % {"batch": batch, "last": last, "missing": said_count(missing, "stick"), "gap": gap, "before": before},
            NextStep(
                gettext("Issue %(missing)s for the trial hoop") % {"missing": said_count(missing, "stick")},
                _page("batch-issue", batch),
            ),
        )
    if trial and batch.stop_gap == trial.stop_gap:
        return BatchStatus(
            gettext("%(batch)s: trial hoop not accepted yet.%(last)s See what to change%(before)s.")
            % {"batch": batch, "last": last, "before": before},
            NextStep(
                gettext("See what to change after trial hoop %(attempt)s") % {"attempt": trial.attempt},
                _page("batch-attempt", batch, trial.attempt),
            ),
        )
    so = ""
    if trial:
        so = gettext(" number %(attempt)s was %(verdicts)s, so") % {
            "attempt": trial.attempt,
            "verdicts": gettext(VERDICTS[Verdict(trial.verdict)]),
        }
    return BatchStatus(
        gettext(
            "%(batch)s: trial hoop not accepted yet;%(value)s bend one with a stop gap of %(gap)s and"
            " measure it%(before)s."
        )
        % {"batch": batch, "value": so, "gap": gap, "before": before},
        NextStep(
            gettext("Measure trial hoop %(next_attempt)s") % {"next_attempt": batch.next_attempt},
            _page("batch-trial", batch),
        ),
    )


def _past_the_gate(batch: HoopBatch) -> BatchStatus:
    left, unbent = batch.hoops_left, unbent_sticks(batch=batch)
    hoops, gap = said_count(batch.quantity, "hoop"), length_text(batch.stop_gap, units_of(batch.organisation))
    if batch.state == HoopBatch.State.DONE:
        short = gettext(", %(left)s fewer than wanted") % {"left": format_count(left)} if left else ""
        return BatchStatus(
            gettext("%(batch)s is done: %(hoops_bent)s bent%(short)s.")
            % {"batch": batch, "hoops_bent": said_count(batch.hoops_bent, "hoop"), "short": short},
            NextStep(gettext("See the bending sheet"), _page("batch-sheet", batch)),
        )
    if left:
        answer = gettext("%(batch)s is proven: %(hoops_bent)s of %(hoops)s bent, %(left)s to go, stop gap %(gap)s.") % {
            "batch": batch,
            "hoops_bent": format_count(batch.hoops_bent),
            "hoops": hoops,
            "left": format_count(left),
            "gap": gap,
        }
        if unbent >= batch.sticks_a_hoop:
            return BatchStatus(answer, NextStep(gettext("Record bent hoops"), _page("batch-bent", batch)))
        needed = sticks_to_issue(batch=batch)
        return BatchStatus(
            answer,
            NextStep(
                gettext("Issue %(needed)s") % {"needed": said_count(needed, "stick")}, _page("batch-issue", batch)
            ),
        )
    answer = gettext("%(batch)s: all %(hoops)s are bent.") % {"batch": batch, "hoops": hoops}
    if unbent:
        return BatchStatus(
            f"{answer} "
            + ngettext("%(unbent)s is not bent.", "%(unbent)s are not bent.", unbent)
            % {"unbent": said_count(unbent, "stick")},
            NextStep(
                gettext("Return %(unbent)s") % {"unbent": said_count(unbent, "stick")}, _page("batch-give-back", batch)
            ),
        )
    return BatchStatus(answer, NextStep(gettext("Finish the batch"), _page("batch-finish", batch)))


@dataclass(frozen=True)
class Verdicts:
    """A judged trial hoop: ``answer`` first, then why, then what to change."""

    answer: str
    cause: str
    change: str
    judgement: Judgement


def verdict_of(batch: HoopBatch, trial: TrialHoop) -> Verdicts:
    units, judgement = units_of(batch.organisation), judge_trial(batch, trial)
    off = trial.free_span - trial.target_span
    name = gettext("Trial hoop %(attempt)s") % {"attempt": trial.attempt}
    if judgement.verdict == Verdict.TWISTED:
        answer = gettext("%(name)s is twisted: one end lifts %(value)s out of plane.") % {
            "name": name,
            "value": length_text(trial.twist or 0, units),
        }
    elif judgement.verdict == Verdict.NOT_AN_ARC:
        answer = gettext(
            "%(name)s is not a true arc: it rises %(rise)s, and an arc of its span rises %(rise_of_arc)s."
        ) % {
            "name": name,
            "rise": length_text(trial.rise, units),
            "rise_of_arc": length_text(judgement.rise_of_arc, units),
        }
    elif judgement.verdict == Verdict.ACCEPTED:
        words = gettext("%(name)s is within tolerance: its free span is just the %(wanted)s wanted.")
        if off > 0:
            words = gettext("%(name)s is within tolerance: its free span is %(off)s more than the %(wanted)s wanted.")
        elif off < 0:
            words = gettext("%(name)s is within tolerance: its free span is %(off)s less than the %(wanted)s wanted.")
        answer = words % {
            "name": name,
            "off": length_text(abs(off), units),
            "wanted": length_text(trial.target_span, units),
        }
    else:
        answer = gettext(
            "%(name)s is %(verdict)s by %(off)s: its free span is %(free_span)s, and %(target_span)s is wanted."
        ) % {
            "name": name,
            "verdict": gettext(VERDICTS[judgement.verdict]),
            "off": length_text(abs(off), units),
            "free_span": length_text(trial.free_span, units),
            "target_span": length_text(trial.target_span, units),
        }
    return Verdicts(answer, said(judgement.cause), _change(batch, judgement), judgement)


def can_correct(batch: HoopBatch, judgement: Judgement) -> bool:
    """Whether a stop gap between flat and one pitch puts the hoop right or nearer."""
    return judgement.gap_after is not None and judgement.gap_after < float(batch.recipe.pitch)


def _change(batch: HoopBatch, judgement: Judgement) -> str:
    units = units_of(batch.organisation)
    if judgement.more_a_pull is None or judgement.gap_after is None or judgement.span_after is None:
        return gettext("The stop gap cannot correct this. Check marks, sticks and bender against the recipe.")
    if judgement.verdict == Verdict.ACCEPTED:
        return gettext(
            "Nothing needs to change. To come nearer still, use a stop gap of %(gap_after)s: the same"
            " marks then give a free span of %(span_after)s."
        ) % {
            "gap_after": length_pair_text(judgement.gap_after, units),
            "span_after": length_text(judgement.span_after, units),
        }
    degrees = judgement.degrees_more_a_pull or 0.0
    words = gettext("Each pull turned %(degrees)s° too far.")
    if degrees >= 0:
        words = gettext("Each pull turned %(degrees)s° too little.")
    turned = words % {"degrees": format_decimal(abs(degrees), 2)}
    if not can_correct(batch, judgement):
        return gettext(
            "%(turned)s The stop gap cannot correct this. Check marks, sticks and bender against the recipe."
        ) % {"turned": turned}
    short = "" if judgement.gap_after else gettext(" The bender cannot go further: set the marks closer together.")
    return gettext(
        "%(turned)s Use a stop gap of %(gap_after)s: the same marks then give a free span of %(span_after)s.%(short)s"
    ) % {
        "turned": turned,
        "gap_after": length_pair_text(judgement.gap_after, units),
        "span_after": length_pair_text(judgement.span_after, units),
        "short": short,
    }
