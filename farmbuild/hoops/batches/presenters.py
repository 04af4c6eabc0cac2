"""What the pages of a batch and of a trial hoop show."""

from __future__ import annotations

from decimal import Decimal
from functools import partial

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_pair_text, length_text, to_decimal
from farmbuild.hoops.batches.bridge import measured_hoop, wanted_hoop
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.words import Verdicts
from farmbuild.measure import format_decimal, format_signed


def target_figures(batch: HoopBatch) -> list[Figure]:
    """What the trial hoop should measure, with how it was worked out."""
    text = partial(length_text, units=batch.organisation.unit_system)
    target = batch.post_span + batch.spring_in
    hoop = wanted_hoop(batch)
    return [
        Figure(
            "Free span wanted",
            f"Posts {text(batch.post_span)} apart + {text(batch.spring_in)} of spring-in. Within"
            f" {text(batch.span_tolerance)} it is right.",
            length=target,
        ),
        Figure(
            "Rise",
            f"Of {text(hoop.developed)} of pipe, each pull on the radius that makes that span: {text(hoop.radius)},"
            f" half the bent angle {format_decimal(hoop.half_angle, 4)} rad. Within"
            f" {text(batch.rise_tolerance)} of its own arc it is true.",
            length=to_decimal(hoop.rise),
        ),
        Figure(
            "Stop gap",
            "The recipe's, as corrected after trial hoops.",
            length=batch.stop_gap,
        ),
    ]


def trial_figures(batch: HoopBatch, trial: TrialHoop, verdict: Verdicts) -> list[Figure]:
    """The measured hoop worked through, from its span to the change of the stop gap."""
    text = partial(length_text, units=batch.organisation.unit_system)
    judged, pitch = verdict.judgement, batch.recipe.pitch
    gap = trial.stop_gap if trial.last_gap is None else trial.last_gap
    pipe = measured_hoop(batch, trial.free_span).developed
    figures = [
        Figure(
            "Free span off by",
            f"Measured {text(trial.free_span)} less wanted {text(trial.target_span)}; up to"
            f" {text(batch.span_tolerance)} either way is right.",
            text=_signed(trial.free_span - trial.target_span, batch),
        ),
        Figure(
            "Radius really bent",
            f"The radius on which the pulls of this hoop make {text(trial.free_span)} of {text(pipe)} of pipe,"
            f" straights left straight. Wanted: {text(judged.target_radius)}.",
            length=to_decimal(judged.effective_radius),
        ),
        Figure(
            "Rise of an arc of that span",
            f"Of the same pulls on that radius. Measured: {text(trial.rise)}; up to {text(batch.rise_tolerance)} off is"
            " true.",
            length=to_decimal(judged.rise_of_arc),
        ),
    ]
    if trial.twist is not None:
        figures.append(
            Figure("Twist", f"As measured; up to {text(batch.twist_tolerance)} is right.", length=trial.twist)
        )
    if judged.degrees_more_a_pull is None or judged.gap_change is None or judged.span_after is None:
        return figures
    degrees = judged.degrees_more_a_pull
    return [
        *figures,
        Figure(
            "Change of each pull",
            f"{text(pitch)} x (1 / {text(judged.target_radius)} - 1 / {text(judged.effective_radius)}), in radians, x"
            " 180 / pi.",
            text=f"{format_signed(degrees, 2)}°",
        ),
        Figure(
            "Stop gap, corrected",
            f"Stop gap of {text(gap)}, {'as measured' if trial.last_gap is not None else 'as set'};"
            f" the change of each pull in radians x {text(pitch)} is taken off, down to flat.",
            length=to_decimal(judged.gap_after or 0.0),
        ),
        Figure(
            "Free span after the correction",
            "The same marks and pipe with each pull so changed.",
            length=to_decimal(judged.span_after),
        ),
    ]


def _signed(length: Decimal, batch: HoopBatch) -> str:
    sign = "−" if length < 0 else "+"
    return f"{sign}{length_pair_text(abs(length), batch.organisation.unit_system)}" if length else "nothing"
