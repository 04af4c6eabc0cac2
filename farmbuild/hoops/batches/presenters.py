"""What the pages of a batch and of a trial hoop show."""

from __future__ import annotations

from decimal import Decimal
from functools import partial

from django.utils.translation import gettext

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_pair_text, length_text, to_decimal
from farmbuild.common.reading import units_of
from farmbuild.hoops.batches.bridge import measured_hoop, wanted_hoop
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.words import Verdicts
from farmbuild.measure import format_decimal, format_signed


def target_figures(batch: HoopBatch) -> list[Figure]:
    """What the trial hoop should measure, with how it was worked out."""
    text = partial(length_text, units=units_of(batch.organisation))
    target = batch.post_span + batch.spring_in
    hoop = wanted_hoop(batch)
    return [
        Figure(
            gettext("Free span wanted"),
            gettext("Posts %(post_span)s apart + %(spring_in)s of spring-in. Within %(span_tolerance)s it is right.")
            % {
                "post_span": text(batch.post_span),
                "spring_in": text(batch.spring_in),
                "span_tolerance": text(batch.span_tolerance),
            },
            length=target,
        ),
        Figure(
            gettext("Rise"),
            gettext(
                "Of %(developed)s of pipe, each pull on the radius that makes that span: %(radius)s, half"
                " the bent angle %(half_angle)s rad. Within %(rise_tolerance)s of its own arc it is true."
            )
            % {
                "developed": text(hoop.developed),
                "radius": text(hoop.radius),
                "half_angle": format_decimal(hoop.half_angle, 4),
                "rise_tolerance": text(batch.rise_tolerance),
            },
            length=to_decimal(hoop.rise),
        ),
        Figure(
            gettext("Stop gap"),
            gettext("The recipe's, as corrected after trial hoops."),
            length=batch.stop_gap,
        ),
    ]


def trial_figures(batch: HoopBatch, trial: TrialHoop, verdict: Verdicts) -> list[Figure]:
    """The measured hoop worked through, from its span to the change of the stop gap."""
    text = partial(length_text, units=units_of(batch.organisation))
    judged, pitch = verdict.judgement, batch.recipe.pitch
    gap = trial.stop_gap if trial.last_gap is None else trial.last_gap
    pipe = measured_hoop(batch, trial.free_span).developed
    figures = [
        Figure(
            gettext("Free span off by"),
            gettext("Measured %(free_span)s less wanted %(target_span)s; up to %(span_tolerance)s either way is right.")
            % {
                "free_span": text(trial.free_span),
                "target_span": text(trial.target_span),
                "span_tolerance": text(batch.span_tolerance),
            },
            text=_signed(trial.free_span - trial.target_span, batch),
        ),
        Figure(
            gettext("Radius really bent"),
            gettext(
                "The radius on which the pulls of this hoop make %(free_span)s of %(pipe)s of pipe, "
                "straights left straight. Wanted: %(target_radius)s."
            )
            % {"free_span": text(trial.free_span), "pipe": text(pipe), "target_radius": text(judged.target_radius)},
            length=to_decimal(judged.effective_radius),
        ),
        Figure(
            gettext("Rise of an arc of that span"),
            gettext("Of the same pulls on that radius. Measured: %(rise)s; up to %(rise_tolerance)s off is true.")
            % {"rise": text(trial.rise), "rise_tolerance": text(batch.rise_tolerance)},
            length=to_decimal(judged.rise_of_arc),
        ),
    ]
    if trial.twist is not None:
        figures.append(
            Figure(
                gettext("Twist"),
                gettext("As measured; up to %(twist_tolerance)s is right.")
                % {"twist_tolerance": text(batch.twist_tolerance)},
                length=trial.twist,
            )
        )
    if judged.degrees_more_a_pull is None or judged.gap_change is None or judged.span_after is None:
        return figures
    degrees = judged.degrees_more_a_pull
    return [
        *figures,
        Figure(
            gettext("Change of each pull"),
            gettext("%(pitch)s x (1 / %(target_radius)s - 1 / %(effective_radius)s), in radians, x 180 / pi.")
            % {
                "pitch": text(pitch),
                "target_radius": text(judged.target_radius),
                "effective_radius": text(judged.effective_radius),
            },
            text=f"{format_signed(degrees, 2)}°",
        ),
        Figure(
            gettext("Stop gap, corrected"),
            gettext(
                "Stop gap of %(gap)s, %(value)s; the change of each pull in radians x %(pitch)s is taken "
                "off, down to flat."
            )
            % {
                "gap": text(gap),
                "value": gettext("as measured") if trial.last_gap is not None else gettext("as set"),
                "pitch": text(pitch),
            },
            length=to_decimal(judged.gap_after or 0.0),
        ),
        Figure(
            gettext("Free span after the correction"),
            gettext("The same marks and pipe with each pull so changed."),
            length=to_decimal(judged.span_after),
        ),
    ]


def _signed(length: Decimal, batch: HoopBatch) -> str:
    sign = "−" if length < 0 else "+"
    return f"{sign}{length_pair_text(abs(length), units_of(batch.organisation))}" if length else gettext("nothing")
